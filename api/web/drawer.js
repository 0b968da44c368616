// The drawer of papers: looking for some, counting them, tables in and out.

import {ask, make, setText, setValue, show} from './dom.js';
import {faceWords, KINDS, sheetSize, WEIGHTS} from './drawer-logic.js';
import {choice} from './fields.js';
import {counted} from './logic.js';
import * as paperPage from './paper-page.js';
import {counter, messageLine, renew, swatches} from './screen-parts.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./drawer-logic.js').SavedPaper} SavedPaper */
/** @typedef {import('./drawer-actions.js').Drawer} Drawer */

/** Rest after the last key before the words are looked for, in ms: one pause of typing. */
const PAUSE_MS = 250;

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const message = messageLine();
  const words = make('p', {});
  const undo = make('div', {className: 'undo-bar', role: 'group', 'aria-label': 'Deleted paper'}, words,
    make('button', {type: 'button', id: 'undo-paper', className: 'button strong', onclick: () => ask(place, 'undo-paper')}, 'Undo'),
    make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'dismiss-paper')}, 'Leave it deleted'));
  const table = make('input', {
    type: 'file', id: 'papers-in', className: 'heard', accept: '.csv,text/csv',
    onchange: () => {
      if (table.files?.[0]) ask(place, 'bring-in-papers', {file: table.files[0]});
      table.value = '';
    },
  });
  const out = make('a', {className: 'button', href: '/api/papers.csv', download: 'papers.csv'}, 'All as a table (CSV)');
  const tools = make('div', {className: 'row'},
    make('a', {className: 'button strong', href: '#/papers/new'}, 'Add a paper'),
    make('span', {className: 'file'}, table, make('label', {htmlFor: table.id, className: 'button'}, 'Bring in a table (CSV)')), out);
  const empty = make('div', {className: 'empty'},
    make('h2', {}, 'The drawer is empty'),
    make('ol', {},
      make('li', {}, 'Add the papers you have: 12 x 12 sheets, 6 x 6 pads, the strips in the box. Say what each side shows.'),
      make('li', {}, 'Choose layouts and make a batch of cards: each part gets a paper from here, and every sheet a plan of cuts.'),
      make('li', {}, 'Say that it is cut: the sheets leave the drawer, the offcuts come back to be used up.')),
    make('p', {className: 'help'}, 'A table from a spreadsheet needs the columns name, width, height and count. “All as a table” shows the others.'));
  const search = searchForm(place);
  const count = make('p', {className: 'help'});
  const list = make('ul', {className: 'drawer-list', role: 'list'});
  const more = make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'more-papers')}, 'Show more');
  const home = make('div', {className: 'screen'},
    make('h1', {id: 'papers-heading', tabIndex: -1}, 'Your papers'), message.line, undo, tools, empty, search.form, count, list, more);
  const one = make('div', {className: 'screen'});
  place.append(home, one);
  const page = paperPage.mount(one);

  /** @type {SavedPaper[] | null} */
  let shown = null;
  return {
    update(state) {
      show(place, state.view === 'papers');
      const {drawer} = state;
      show(home, drawer !== null && drawer.open === null);
      page.update(state);
      if (!drawer || drawer.open) return;
      const asked = Object.values(drawer.query).some(Boolean);
      const unused = drawer.listed && drawer.list.length === 0 && !asked;
      message.update(state.message);
      show(undo, drawer.deleted !== null);
      setText(words, drawer.deleted ? `“${drawer.deleted.name}” is taken out of the drawer.` : '');
      show(empty, unused);
      show(out, !unused);
      show(search.form, drawer.listed && !unused);
      search.update(drawer);
      setText(count, drawer.listed && asked && !drawer.wrong
        ? drawer.total > 0 ? `${counted(drawer.total, 'paper')} found` : 'No paper has all of this. Ask for less, or add one.' : '');
      show(more, drawer.next !== null);
      if (shown === drawer.list) return;
      shown = drawer.list;
      renew(list, shown.map((saved) => paperItem(place, saved)));
    },
  };
}

/** @param {HTMLElement} place @param {SavedPaper} saved */
function paperItem(place, saved) {
  const {id, paper} = saved;
  return make('li', {className: 'paper-item'}, swatches(paper.faces),
    make('div', {className: 'paper-words'},
      make('a', {href: `#/papers/${id}`, id: `paper-${id}`}, paper.name),
      make('p', {}, `${sheetSize(paper)} · ${paper.weight}${paper.kind === 'sheet' ? '' : `, ${paper.kind}`}`),
      ...paper.faces.map((face, at) =>
        make('p', {className: 'help'}, `${paper.faces.length > 1 ? ['Front: ', 'Back: '][at] : ''}${faceWords(face, paper.unit)}`)),
      ...(paper.tags.length > 0 ? [make('p', {className: 'help'}, `Tags: ${paper.tags.join(', ')}`)] : [])),
    counter(place, saved));
}

/** @param {HTMLElement} place */
function searchForm(place) {
  const find = (/** @type {Partial<import('./drawer-logic.js').PaperQuery>} */ query) => ask(place, 'find-papers', {query});
  const text = make('input', {type: 'search', id: 'papers-text', autocomplete: 'off', maxLength: 200});
  let typing = 0;
  text.addEventListener('input', () => {
    clearTimeout(typing);
    typing = window.setTimeout(() => find({text: text.value}), PAUSE_MS);
  });
  const kind = choice('papers-kind', 'Kind', [['', 'Any'], ...KINDS], (value) => find({kind: value}));
  const weight = choice('papers-weight', 'Weight', [['', 'Any'], ...WEIGHTS], (value) => find({weight: value}));
  const holds = make('input', {
    type: 'text', id: 'papers-holds', autocomplete: 'off', placeholder: '4 1/4 x 5 1/2', 'aria-describedby': 'papers-wrong',
    onchange: () => find({holds: holds.value}),
  });
  const stock = make('input', {type: 'checkbox', onchange: () => find({inStock: stock.checked})});
  const wrong = make('p', {className: 'fault', id: 'papers-wrong'});
  const field = (/** @type {string} */ label, /** @type {HTMLElement} */ input) =>
    make('div', {className: 'field'}, make('label', {htmlFor: input.id}, label), input);
  const form = make('form', {className: 'paper-search', role: 'search', 'aria-label': 'Search the drawer', onsubmit: (/** @type {Event} */ event) => {
    event.preventDefault();
    clearTimeout(typing);
    find({text: text.value, holds: holds.value});
  }}, field('Look for', text), field('Holds a piece of', holds), kind.root, weight.root,
  make('label', {className: 'check'}, stock, 'Only what is there'), wrong);
  return {
    form,
    /** @param {Drawer} drawer */
    update({query, wrong: message}) {
      setValue(text, query.text);
      setValue(holds, query.holds);
      kind.select.value = query.kind;
      weight.select.value = query.weight;
      stock.checked = query.inStock;
      show(wrong, message !== '');
      setText(wrong, message);
      if (message) holds.setAttribute('aria-invalid', 'true');
      else holds.removeAttribute('aria-invalid');
    },
  };
}
