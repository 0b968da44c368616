// One paper: what it is, sheets that were cut by hand, layouts that it has
// room for, and what happened to it.

import {MOST_CARDS, USUAL_CARDS} from './batch-logic.js';
import {ask, make, setText, show, unbroken} from './dom.js';
import {
  countWords, EDGES, formOf, KINDS, PATTERNS, readCut, readPaperForm, sheetSize, USUAL_SIZES, WEIGHTS, wholeNumber,
} from './drawer-logic.js';
import {choice} from './fields.js';
import {counted} from './logic.js';
import {dayWords} from './notebook-logic.js';
import {counter, messageLine, renew, showFaults, swatches, textField} from './screen-parts.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./drawer-logic.js').SavedPaper} SavedPaper */
/** @typedef {import('./drawer-logic.js').PaperForm} PaperForm */
/** @typedef {import('./drawer-actions.js').OpenPaper} OpenPaper */
/** @typedef {'width' | 'height' | 'count'} OffcutField */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const heading = make('h1', {id: 'paper-heading', tabIndex: -1});
  const message = messageLine();
  const look = make('div', {className: 'paper-look'});
  const form = paperForm(place);
  const cut = cutForm(place);
  const from = layoutsFrom(place);
  const history = historyOf(place);
  place.append(
    make('a', {className: 'back', href: '#/papers'}, make('span', {'aria-hidden': 'true'}, '←'), ' Your papers'),
    heading, message.line, look,
    make('div', {className: 'paper-bench'}, form.part, make('div', {className: 'screen'}, cut.part, from.part, history.part)));
  /** @type {number | null} */
  let turn = null;
  /** @type {SavedPaper | null} */
  let shown = null;
  return {
    update({drawer, message: said}) {
      const open = drawer?.open ?? null;
      show(place, open !== null);
      if (!open) {
        [turn, shown] = [null, null];
        return;
      }
      const {saved} = open;
      message.update(said);
      setText(heading, saved ? saved.paper.name : 'Add a paper');
      for (const part of [look, cut.part, from.part, history.part]) show(part, saved !== null);
      from.update(open);
      history.update(open);
      if (open.turn !== turn) form.fill(saved);
      else if (saved && saved !== shown) form.count(saved);
      turn = open.turn;
      if (!saved || saved === shown) return;
      shown = saved;
      renew(look, [swatches(saved.paper.faces), make('p', {}, sheetSize(saved.paper)), counter(place, saved, 'open')]);
      cut.fill(saved);
    },
  };
}

/** @param {HTMLElement} place */
function paperForm(place) {
  const nothing = () => {};
  const name = textField('paper-name', 'Name', {maxLength: 200});
  const usual = choice('paper-usual', 'A usual size', [['', 'Another'], ...USUAL_SIZES.map(([words], at) => /** @type {[string, string]} */ ([String(at), words]))], (value) => {
    const size = USUAL_SIZES[Number(value)];
    if (value === '' || !size) return;
    [, unit.select.value, width.input.value, height.input.value, kind.select.value] = size;
  });
  const width = textField('paper-width', 'Width', {className: 'length'});
  const height = textField('paper-height', 'Height', {className: 'length'});
  const unit = choice('paper-unit', 'In', [['in', 'inches'], ['mm', 'millimetres']], nothing);
  const kind = choice('paper-kind', 'Kind', KINDS, nothing);
  const weight = choice('paper-weight', 'Weight', WEIGHTS, nothing);
  const count = textField('paper-count', 'How many sheets', {inputMode: 'numeric'});
  const faces = [faceFields(0, 'Front'), faceFields(1, 'Back')];
  const both = make('input', {type: 'checkbox', id: 'paper-both', onchange: () => show(faces[1].root, both.checked)});
  const tags = textField('paper-tags', 'Tags', {placeholder: 'spring, blue'});
  const notes = make('textarea', {id: 'paper-notes', rows: 2, maxLength: 20000});
  const save = make('button', {className: 'button strong'});
  const remove = make('button', {type: 'button', className: 'button quiet', onclick: () => ask(place, 'delete-paper')}, 'Take it out of the drawer');
  /** @type {SavedPaper | null} */
  let saved = null;
  const filledCount = () => formOf(saved?.paper ?? null).count;
  const part = make('form', {className: 'paper', 'aria-label': 'Paper', noValidate: true, onsubmit: (/** @type {Event} */ event) => {
    event.preventDefault();
    const read = readPaperForm(typed(), saved?.paper ?? null);
    showFaults(part, read.ok ? {} : read.faults);
    if (read.ok) ask(place, 'save-paper', {paper: read.paper});
  }},
  name.root,
  make('div', {className: 'paper-fields'}, usual.root, kind.root, width.root, height.root, unit.root, count.root, weight.root),
  make('p', {className: 'help'}, 'Width and height with the front up, in eighths or sixteenths: 12 1/4, 8½, 297 mm.'),
  faces[0].root, make('label', {className: 'check'}, both, 'The back can be shown too'), faces[1].root,
  tags.root, make('div', {className: 'field'}, make('label', {htmlFor: notes.id}, 'Notes'), notes),
  make('div', {className: 'row'}, save, remove));

  /** @returns {PaperForm} */
  const typed = () => ({
    name: name.input.value, kind: kind.select.value, unit: unit.select.value === 'mm' ? 'mm' : 'in', width: width.input.value,
    height: height.input.value, count: count.input.value, weight: weight.select.value, faces: faces.map((face) => face.typed()),
    both: both.checked, notes: notes.value, tags: tags.input.value,
  });
  return {
    part,
    /** Sheets came or went; what was typed stays. @param {SavedPaper} now */
    count(now) {
      const typedCount = count.input.value !== filledCount();
      saved = now;
      if (!typedCount) count.input.value = filledCount();
    },
    /** @param {SavedPaper | null} now */
    fill(now) {
      saved = now;
      const form = formOf(now?.paper ?? null);
      showFaults(part, {});
      name.input.value = form.name;
      usual.select.value = '';
      [kind.select.value, unit.select.value, weight.select.value] = [form.kind, form.unit, form.weight];
      [width.input.value, height.input.value, count.input.value] = [form.width, form.height, form.count];
      faces.forEach((face, at) => face.fill(form.faces[at]));
      both.checked = form.both;
      show(faces[1].root, form.both);
      [tags.input.value, notes.value] = [form.tags, form.notes];
      show(remove, now !== null);
      setText(save, now ? 'Save changes' : 'Put it into the drawer');
    },
  };
}

/** @param {number} at @param {string} words */
function faceFields(at, words) {
  const name = textField(`face-${at}-name`, 'Print', {placeholder: at === 0 ? 'Ferns' : '', maxLength: 60});
  const colour = textField(`face-${at}-colour`, 'Colour', {placeholder: at === 0 ? 'green' : 'cream', maxLength: 60});
  const pattern = choice(`face-${at}-pattern`, 'Pattern', PATTERNS, () => {});
  const directional = make('input', {type: 'checkbox'});
  const edges = EDGES.map((edge) => ({edge, ...textField(`face-${at}-${edge}`, edge[0].toUpperCase() + edge.slice(1), {className: 'length', placeholder: '0'})}));
  const more = make('details', {className: 'more'}, make('summary', {}, 'Edges that cannot be used'),
    make('p', {className: 'help'}, 'A printed name strip or a border, as wide as it is, seen with this side up.'),
    make('div', {className: 'paper-fields edges'}, ...edges.map(({root}) => root)));
  const root = make('fieldset', {className: 'face'}, make('legend', {}, words),
    make('div', {className: 'paper-fields print'}, name.root, colour.root, pattern.root),
    make('label', {className: 'check'}, directional, 'Its print has an up: pieces are not turned'), more);
  return {
    root,
    /** @returns {import('./drawer-logic.js').FaceForm} */
    typed: () => /** @type {any} */ ({
      name: name.input.value, colour: colour.input.value, pattern: pattern.select.value, directional: directional.checked,
      ...Object.fromEntries(edges.map(({edge, input}) => [edge, input.value])),
    }),
    /** @param {import('./drawer-logic.js').FaceForm} face */
    fill(face) {
      [name.input.value, colour.input.value, pattern.select.value] = [face.name, face.colour, face.pattern];
      directional.checked = face.directional;
      for (const {edge, input} of edges) input.value = face[edge];
      more.open = edges.some(({input}) => input.value !== '');
    },
  };
}

/** @param {HTMLElement} place */
function cutForm(place) {
  const sheets = textField('cut-sheets', 'Sheets that were cut', {inputMode: 'numeric', value: '1'});
  const lines = make('div', {className: 'offcuts'});
  /** @type {Record<OffcutField, HTMLInputElement>[]} */
  let offcuts = [];
  const addLine = () => {
    const at = offcuts.length;
    const name = (/** @type {OffcutField} */ side, /** @type {string} */ label) => textField(`offcut-${at}-${side}`, label, side === 'count' ? {inputMode: 'numeric', value: '1'} : {className: 'length'});
    const [width, height, count] = [name('width', 'Width'), name('height', 'Height'), name('count', 'How many')];
    offcuts.push({width: width.input, height: height.input, count: count.input});
    lines.append(make('div', {className: 'offcut', role: 'group', 'aria-label': `Offcut ${at + 1}`}, width.root, height.root, count.root));
    return width.input;
  };
  /** @type {SavedPaper | null} */
  let saved = null;
  const part = make('form', {className: 'paper', 'aria-labelledby': 'cut-heading', noValidate: true, onsubmit: (/** @type {Event} */ event) => {
    event.preventDefault();
    if (!saved) return;
    const read = readCut(sheets.input.value, offcuts.map((one) => ({width: one.width.value, height: one.height.value, count: one.count.value})), saved.paper);
    showFaults(part, read.ok ? {} : read.faults);
    if (read.ok) ask(place, 'cut-paper', {cut: read.cut});
  }},
  make('h2', {id: 'cut-heading'}, 'Cut by hand'),
  make('p', {className: 'help'}, 'Sheets that you cut without a plan leave the drawer; what is left of them goes back as offcuts.'),
  sheets.root, lines,
  make('div', {className: 'row'}, make('button', {className: 'button strong'}, 'Take them out'),
    make('button', {type: 'button', className: 'button', onclick: () => addLine().focus()}, 'Another offcut')));
  return {
    part,
    /** @param {SavedPaper} now */
    fill(now) {
      saved = now;
      showFaults(part, {});
      sheets.input.value = '1';
      offcuts = [];
      lines.replaceChildren();
      addLine();
    },
  };
}

/** @param {HTMLElement} place */
function layoutsFrom(place) {
  const cards = textField('from-cards', 'Cards of each', {inputMode: 'numeric', value: String(USUAL_CARDS)});
  const told = make('p', {});
  const list = make('ul', {className: 'plain-list', role: 'list'});
  const part = make('form', {className: 'paper', 'aria-labelledby': 'from-heading', noValidate: true, onsubmit: (/** @type {Event} */ event) => {
    event.preventDefault();
    const number = wholeNumber(cards.input.value, 1, MOST_CARDS);
    showFaults(part, number === null ? {'from-cards': `Write a number of cards, from 1 to ${MOST_CARDS}.`} : {});
    if (number !== null) ask(place, 'paper-layouts', {cards: number});
  }},
  make('h2', {id: 'from-heading'}, 'Which layouts can I cut from this?'), cards.root,
  make('div', {className: 'row'}, make('button', {className: 'button'}, 'Look in the notebook')), told, list);
  /** @type {OpenPaper['from'] | undefined} */
  let shown;
  return {
    part,
    /** @param {OpenPaper} open */
    update({from}) {
      if (from === shown) return;
      shown = from;
      const layouts = from?.layouts ?? [];
      setText(told, !from ? '' : layouts.length > 0
        ? `${counted(layouts.length, 'layout')} with a part that can be cut from this:`
        : 'None: every part of every layout is larger. Try fewer cards.');
      list.replaceChildren(...layouts.map(({id, title, cards: number, parts}) => make('li', {},
        make('a', {href: `#/layouts/${id}`}, title.trim() || 'Untitled'), `: enough for ${counted(number, 'card')}`,
        make('ul', {}, ...parts.map((part) => make('li', {}, unbroken(part)))))));
    },
  };
}

/** @param {HTMLElement} place */
function historyOf(place) {
  const open = make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'paper-history')}, 'Show what happened');
  const list = make('ol', {className: 'plain-list', role: 'list'});
  const part = make('section', {className: 'paper', 'aria-labelledby': 'happened-heading'},
    make('h2', {id: 'happened-heading'}, 'What happened'), make('div', {className: 'row'}, open), list);
  /** @type {OpenPaper['history'] | undefined} */
  let shown;
  return {
    part,
    /** @param {OpenPaper} now */
    update({history, saved}) {
      show(open, history === null);
      if (history === shown) return;
      shown = history;
      list.replaceChildren(...(history ?? []).map(({version, saved_at: at, why, deleted, name, count}) => {
        const words = `${dayWords(at)}: ${why || 'saved'}${deleted || count === null ? '' : `. ${name}, ${countWords({.../** @type {any} */ (saved?.paper), count})}`}`;
        const back = make('button', {
          type: 'button', className: 'button small', 'aria-label': `Back to number ${version}`,
          onclick: () => ask(place, 'restore-paper', {version}),
        }, 'Back to this');
        return make('li', {className: 'row'}, make('span', {}, words), ...(deleted || version === saved?.version ? [] : [back]));
      }));
    },
  };
}
