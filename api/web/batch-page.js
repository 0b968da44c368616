// One batch: its cards, the papers they come from, how it is cut, and the plan
// of its sheets.

import {
  cutCells, cuttingWords, drawingWords, missingWords, MOST_CARDS, paperChoices, pieceSize, sheetWords, STAGES, supplyWords,
  titleOfBatch, totalsWords,
} from './batch-logic.js';
import {ask, make, makeSvg, setText, setValue, show} from './dom.js';
import {wholeNumber} from './drawer-logic.js';
import {choice, lengthStepper} from './fields.js';
import {dayWords} from './notebook-logic.js';
import {messageLine, renew, showFaults, tableOf, textField} from './screen-parts.js';
import {sheetDrawing} from './sheet-drawing.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./batch-actions.js').OpenBatch} OpenBatch */
/** @typedef {import('./batch-logic.js').Plan} Plan */
/** @typedef {import('./batch-logic.js').PlannedSheet} PlannedSheet */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const heading = make('h1', {id: 'batch-heading', tabIndex: -1});
  const message = messageLine();
  const cards = cardsPart(place);
  const papers = papersPart(place);
  const cutting = cuttingPart(place);
  const plan = planPart(place);
  const sheets = sheetsPart();
  const remove = make('details', {className: 'more'}, make('summary', {}, 'Delete this batch'),
    make('p', {className: 'help'}, 'Your layouts and papers stay. What was cut stays cut.'),
    make('button', {type: 'button', className: 'button danger', onclick: () => ask(place, 'delete-batch')}, 'Delete the batch'));
  place.append(
    make('a', {className: 'back', href: '#/batches'}, make('span', {'aria-hidden': 'true'}, '←'), ' Your batches'),
    heading, message.line,
    make('div', {className: 'batch-bench'},
      cards.part, plan.part, papers.part, cutting.part, sheets.part),
    remove);
  return {
    update({batches, message: said, busy}) {
      const open = batches?.open ?? null;
      show(place, open !== null);
      if (!open) return;
      message.update(said);
      setText(heading, titleOfBatch(open.saved.record));
      cards.update(open);
      papers.update(open);
      cutting.update(open);
      plan.update(open, busy !== null);
      sheets.update(open.plan);
    },
  };
}

/** @param {unknown[]} now @param {unknown[]} before */
const isSame = (now, before) => now.length === before.length && now.every((one, at) => one === before[at]);

/** What layouts are called, as far as the plan knows. @param {Plan | null} plan */
const namer = (plan) => (/** @type {number} */ layout) => plan?.layouts.find((one) => one.layout === layout)?.title.trim() || `Layout ${layout}`;

/** @param {HTMLElement} place */
function cardsPart(place) {
  const title = textField('batch-title', 'Title', {maxLength: 200, onchange: () => ask(place, 'name-batch', {title: title.input.value.trim()})});
  const list = make('ul', {className: 'plain-list', role: 'list'});
  const part = make('section', {className: 'paper batch-cards', 'aria-labelledby': 'cards-heading'},
    make('h2', {id: 'cards-heading', tabIndex: -1}, 'Cards'), title.root, list);
  /** @type {unknown[]} */
  let shown = [];
  return {
    part,
    /** @param {OpenBatch} open */
    update({saved, plan}) {
      const {layouts} = saved.record;
      const fixed = saved.cutAt !== null;
      setValue(title.input, saved.record.title);
      title.input.disabled = fixed;
      const nameOf = namer(plan);
      const now = [layouts, fixed, ...layouts.map(({layout}) => nameOf(layout))];
      if (isSame(now, shown)) return;
      shown = now;
      renew(list, layouts.map(({layout, cards}) => {
        const field = textField(`cards-${layout}`, 'Cards', {inputMode: 'numeric', value: String(cards), disabled: fixed});
        const item = make('li', {className: 'cards-of'},
          make('a', {href: `#/layouts/${layout}`}, nameOf(layout)), field.root,
          make('button', {
            type: 'button', className: 'button quiet', hidden: fixed || layouts.length < 2, 'aria-label': `Leave out ${nameOf(layout)}`,
            onclick: () => ask(place, 'drop-layout', {layout}),
          }, 'Leave out'));
        field.input.setAttribute('aria-label', `Cards of ${nameOf(layout)}`);
        field.input.addEventListener('change', () => {
          const number = wholeNumber(field.input.value, 1, MOST_CARDS);
          showFaults(item, number === null ? {[field.input.id]: `Write a number from 1 to ${MOST_CARDS}.`} : {});
          if (number !== null) ask(place, 'set-cards', {layout, cards: number});
        });
        return item;
      }));
    },
  };
}

/** @param {HTMLElement} place */
function papersPart(place) {
  const list = make('ul', {className: 'plain-list', role: 'list'});
  const none = make('p', {className: 'help'}, 'The drawer is empty. ', make('a', {href: '#/papers/new'}, 'Add a paper'), ', then come back: it is planned again.');
  const part = make('section', {className: 'paper batch-papers', 'aria-labelledby': 'batch-papers-heading'},
    make('h2', {id: 'batch-papers-heading'}, 'Papers'), none, list);
  /** @type {unknown[]} */
  let shown = [];
  return {
    part,
    /** @param {OpenBatch} open */
    update({plan, papers, saved}) {
      show(none, papers.length === 0 && !saved.cutAt);
      const now = [plan?.papers, papers, saved.cutAt];
      if (isSame(now, shown)) return;
      shown = now;
      const several = (plan?.layouts.length ?? 0) > 1;
      const nameOf = namer(plan);
      renew(list, (plan?.papers ?? []).map(({layout, supply, paper, name, face, by_hand: byHand, why, cards_per_sheet: perSheet}) => {
        const value = byHand && paper !== null ? `${paper}:${face}` : '';
        const choices = paperChoices(papers);
        // One that is used up or gone is still what was chosen.
        if (value !== '' && !choices.some(([one]) => one === value)) choices.push([value, name || `Paper ${paper}`]);
        const words = `${supplyWords(supply)}${several ? ` of ${nameOf(layout)}` : ''}`;
        const select = choice(`choose-${layout}-${supply}`, words, [['', `Proposed${!byHand && name ? `: ${name}` : ''}`], ...choices],
          (chosen) => ask(place, 'choose-paper', {layout, supply, value: chosen}));
        select.select.value = value;
        select.select.disabled = saved.cutAt !== null;
        const reason = `${why[0]?.toUpperCase() ?? ''}${why.slice(1)}`;
        return make('li', {}, select.root,
          make('p', {className: paper === null ? 'fault' : 'help'}, `${reason}.${perSheet === null ? '' : ` A sheet gives this part for ${perSheet} ${perSheet === 1 ? 'card' : 'cards'}.`}`));
      }));
    },
  };
}

/** @param {HTMLElement} place */
function cuttingPart(place) {
  const set = (/** @type {Record<string, unknown>} */ cutting) => ask(place, 'set-cutting', cutting);
  const blade = lengthStepper({id: 'blade', label: 'The blade takes away', step: 'position', least: 0, change: (value) => set({blade: value})});
  const strip = lengthStepper({id: 'least-strip', label: 'Narrowest strip it holds', step: 'position', least: 0, change: (value) => set({least_strip: value})});
  const stages = choice('stages', 'The direction of cuts may change', STAGES, (value) => set({stages: value}));
  const bases = make('input', {type: 'checkbox', id: 'cut-bases', onchange: () => set({bases: bases.checked})});
  const middles = make('input', {type: 'checkbox', id: 'cut-middles', onchange: () => set({middles: middles.checked})});
  const summary = make('span', {className: 'help'});
  const fields = make('fieldset', {className: 'cutting-fields'}, make('legend', {className: 'heard'}, 'How it is cut'),
    blade.root, strip.root, stages.root,
    make('label', {className: 'check'}, bases, 'Card bases are cut as well'),
    make('label', {className: 'check'}, middles, 'Hidden middles of panels are cut out and used'));
  const part = make('section', {className: 'paper batch-cutting', 'aria-labelledby': 'cutting-heading'},
    make('h2', {id: 'cutting-heading'}, 'How it is cut'), summary,
    make('details', {className: 'more'}, make('summary', {}, 'Change it'), fields));
  return {
    part,
    /** @param {OpenBatch} open */
    update({saved}) {
      const {cutting, unit} = saved.record;
      setText(summary, `${cuttingWords(saved.record)}.`.replace(/^./, (letter) => letter.toUpperCase()));
      blade.update({value: cutting.blade, unit});
      strip.update({value: cutting.least_strip, unit});
      stages.select.value = cutting.stages;
      [bases.checked, middles.checked] = [cutting.bases, cutting.middles];
      fields.disabled = saved.cutAt !== null;
    },
  };
}

/** @param {HTMLElement} place */
function planPart(place) {
  const progress = make('p', {className: 'planning'});
  const totals = make('p', {id: 'plan-totals'});
  const trouble = make('p', {className: 'trouble'});
  const missing = make('ul', {className: 'missing'});
  const advice = make('ul', {className: 'advice'});
  const wanting = make('div', {className: 'wanting'}, make('h3', {}, 'Pieces without paper'), missing, advice);
  const button = (/** @type {string} */ verb, /** @type {string} */ words, kind = '') =>
    make('button', {type: 'button', className: `button ${kind}`, id: verb, onclick: () => ask(place, verb)}, words);
  const stop = button('stop-planning', 'Stop here');
  const longer = button('plan-longer', 'Look longer');
  const again = button('plan-batch', 'Plan again');
  const print = make('a', {className: 'button', target: '_blank', rel: 'noopener'}, 'Print the sheets (PDF)');
  const cut = button('cut-batch', 'It is cut', 'strong');
  const done = make('p', {});
  const uncut = make('button', {type: 'button', className: 'button', id: 'uncut', onclick: () => ask(place, 'uncut-batch')}, 'Undo: it was not cut');
  const part = make('section', {className: 'paper batch-plan', 'aria-labelledby': 'plan-heading'},
    make('h2', {id: 'plan-heading'}, 'The plan'), done, progress, trouble, totals, wanting,
    make('div', {className: 'row'}, cut, print, stop, longer, again, uncut),
    make('p', {className: 'help'}, 'Guard on, fingers behind it, and the trimmer’s own instructions first.'));
  return {
    part,
    /** @param {OpenBatch} open @param {boolean} busy */
    update({saved, plan, totals: sums, planning, trouble: why}, busy) {
      const isCut = saved.cutAt !== null;
      show(done, isCut);
      setText(done, isCut ? `Cut on ${dayWords(saved.cutAt ?? '')}. Its sheets have left the drawer and the offcuts are in it.` : '');
      show(progress, planning);
      setText(progress, 'Planning: looking for fewer sheets and cuts…');
      show(trouble, why !== '');
      setText(trouble, why);
      setText(totals, sums ? totalsWords(sums) : planning ? '' : 'Not planned yet.');
      const short = plan !== null && !isCut && (plan.missing.length > 0 || plan.advice.length > 0);
      show(wanting, short);
      if (short) {
        missing.replaceChildren(...missingWords(plan).map((words) => make('li', {}, words)));
        advice.replaceChildren(...plan.advice.map((words) => make('li', {}, words.replace(/^./, (letter) => letter.toUpperCase()))));
      }
      const cuttable = plan !== null && plan.sheets.length > 0;
      show(cut, !isCut && cuttable);
      cut.disabled = planning || busy;
      show(print, cuttable);
      print.href = `/api/batches/${saved.id}/sheets.pdf`;
      show(stop, planning);
      show(longer, !planning && !isCut && cuttable && !(sums?.proven ?? false));
      show(again, !planning && !isCut && why !== '');
      show(uncut, isCut);
    },
  };
}

function sheetsPart() {
  const pieces = make('div', {});
  const sheets = make('div', {className: 'sheets'});
  const part = make('div', {className: 'screen batch-sheets'},
    make('section', {className: 'paper', 'aria-labelledby': 'pieces-heading'}, make('h2', {id: 'pieces-heading'}, 'Pieces'), pieces), sheets);
  /** @type {Plan | null} */
  let shown = null;
  return {
    part,
    /** @param {Plan | null} plan */
    update(plan) {
      show(part, plan !== null && plan.pieces.length > 0);
      if (plan === shown || !plan) return;
      shown = plan;
      const several = plan.layouts.length > 1;
      const nameOf = namer(plan);
      pieces.replaceChildren(tableOf('All pieces with their letters', ['Piece', 'Cut', 'For'], plan.pieces.map((piece) => [
        piece.letter, `${piece.count} of ${pieceSize(piece).replaceAll(' ', '\u00a0')}`,
        [piece.words.join('; '), several ? nameOf(piece.layout) : '', piece.finish, piece.score].filter(Boolean).join('; '),
      ])));
      sheets.replaceChildren(...plan.sheets.map(sheetPart));
    },
  };
}

/** @param {PlannedSheet} sheet */
function sheetPart(sheet) {
  const drawing = makeSvg(sheetDrawing(sheet));
  drawing.setAttribute('role', 'img');
  drawing.setAttribute('aria-label', drawingWords(sheet));
  const id = `sheet-${sheet.number}`;
  const back = sheet.pieces.some(({face}) => face > 0);
  return make('section', {className: 'paper sheet', 'aria-labelledby': id},
    make('h3', {id}, sheetWords(sheet)),
    make('div', {className: 'sheet-sides'}, drawing,
      make('div', {}, tableOf(`Cuts of sheet ${sheet.number}`, ['Cut', 'Set to', 'Blade runs', 'Part in hand'], sheet.cuts.map((cut) => cutCells(cut, sheet.unit))),
        ...(back ? [make('p', {className: 'help'}, 'Dotted pieces show the back of the sheet.')] : []))));
}
