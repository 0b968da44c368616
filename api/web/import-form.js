// Asks which card the files of a drop are for, before they are sent.

import {ask, make, setText, show} from './dom.js';
import {LARGEST_FILE, many, ruleFault, sizeWords} from './import-logic.js';
import {showLength} from './lengths.js';
import {messageLine} from './screen-parts.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./client.js').Card} Card */
/** @typedef {import('./import-actions.js').Drop} Drop */
/** @typedef {import('./import-logic.js').Way} Way */

/** Names that are told of files that are left out. */
const MOST_NAMES = 5;

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const heading = make('h1', {id: 'import-new-heading', tabIndex: -1});
  const message = messageLine();
  const facts = make('p', {className: 'help'});
  const leftOut = make('p', {className: 'help'});
  const large = make('p', {className: 'trouble'});
  const fault = make('p', {className: 'fault', id: 'import-rule-fault'});
  const ways = make('fieldset', {className: 'paper import-ways', 'aria-describedby': 'import-rule-fault'});
  const begin = make('button', {type: 'submit', className: 'button strong', id: 'send-import'});
  const form = make('form', {className: 'screen', noValidate: true}, ways, fault,
    make('div', {className: 'row'}, begin,
      make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'leave-drop')}, 'Leave it')));
  place.append(heading, message.line, facts, leftOut, large, form);
  /** @type {() => import('./import-logic.js').Rule} */
  let read;
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const rule = read();
    const wrong = ruleFault(rule);
    setText(fault, wrong);
    show(fault, wrong !== '');
    if (wrong) ways.querySelector('input')?.focus();
    else ask(place, 'send-import', {rule});
  });
  /** @type {unknown[]} */
  let shown = [];
  return {
    update({imports, cards, message: said}) {
      const drop = imports?.drop ?? null;
      if (!drop) return;
      message.update(said);
      if (shown[0] === drop && shown[1] === cards) return;
      shown = [drop, cards];
      const {files, folders} = drop;
      const bytes = files.reduce((sum, {size}) => sum + size, 0);
      setText(heading, `${many(files.length, 'file')} to read`);
      setText(facts, [sizeWords(bytes), ...(folders.length > 0 ? [`in ${many(folders.length, 'folder')}`] : []),
        'Drop more to add them'].join(' · '));
      show(leftOut, drop.leftOut.length > 0);
      setText(leftOut, `Left out, for they are no pictures: ${namesOf(drop.leftOut)}.`);
      const heavy = files.filter(({size}) => size > LARGEST_FILE).map(({name}) => name);
      show(large, heavy.length > 0);
      setText(large, `Larger than ${sizeWords(LARGEST_FILE)}, which is too large to be read: ${namesOf(heavy)}. Unpack or split it, and drop the parts.`);
      setText(begin, files.length === 1 ? 'Read it' : `Read all ${files.length}`);
      show(fault, false);
      read = fillWays(ways, drop, cards);
    },
  };
}

/** @param {string[]} names */
const namesOf = (names) => `${names.slice(0, MOST_NAMES).join(', ')}${names.length > MOST_NAMES ? ` and ${names.length - MOST_NAMES} more` : ''}`;

/**
 * Puts the ways of telling the card into the form; gives what reads them.
 * @param {HTMLElement} ways
 * @param {Drop} drop
 * @param {Card[]} cards
 */
function fillWays(ways, {rule, folders}, cards) {
  const cardWords = (/** @type {Card} */ {name, width, height, unit}) => `${name}: ${showLength(width, unit)} x ${showLength(height, unit)}`;
  const select = (/** @type {string} */ id, /** @type {string} */ chosen, /** @type {[string, string][]} */ first = []) => {
    const field = make('select', {id}, ...first.map(([value, words]) => make('option', {value}, words)),
      ...cards.map((card) => make('option', {value: card.name}, cardWords(card))));
    field.value = chosen;
    return field;
  };
  const labelled = (/** @type {HTMLSelectElement} */ field, /** @type {string} */ label) =>
    make('div', {className: 'field'}, make('label', {htmlFor: field.id}, label), field);
  const several = folders.length > 1;
  const start = rule.way === 'folders' && !several ? 'one' : rule.way;
  /** @type {[Way, HTMLInputElement, HTMLElement][]} */
  const blocks = [];
  const way = (/** @type {Way} */ value, /** @type {string} */ words, /** @type {Node[]} */ ...inside) => {
    const radio = make('input', {type: 'radio', name: 'import-way', value, id: `import-way-${value}`, checked: value === start, onchange: choose});
    const block = make('div', {className: 'import-way'}, ...inside);
    blocks.push([value, radio, block]);
    return make('div', {}, make('label', {className: 'check'}, radio, words), block);
  };
  function choose() {
    for (const [, radio, block] of blocks) show(block, radio.checked);
  }
  const one = select('import-card', rule.card);
  const boxes = cards.map((card) => make('input', {type: 'checkbox', value: card.name, checked: rule.among.includes(card.name)}));
  const otherwise = select('import-otherwise', rule.otherwise, [['', 'Ask me afterwards']]);
  const each = folders.map((folder, at) => /** @type {const} */ ([folder, select(`import-folder-${at}`, rule.folders[folder] ?? rule.card)]));
  ways.replaceChildren(
    make('legend', {}, 'Which card are they for?'),
    way('one', 'All for one card', labelled(one, 'Card')),
    way('outline', 'Different cards: the drawn outline tells which',
      make('fieldset', {className: 'import-among'}, make('legend', {}, 'It may be'),
        ...boxes.map((box, at) => make('label', {className: 'check'}, box, cardWords(cards[at])))),
      make('p', {className: 'help'}, 'Cards with nearly the same proportions, like A6 and A7, cannot be told apart by their outline. Tick those you make.'),
      labelled(otherwise, 'Where the outline does not tell')),
    ...(several ? [way('folders', 'Each folder has its card', make('div', {className: 'import-folders'}, ...each.map(([folder, field]) => labelled(field, folder))))] : []));
  choose();
  return () => {
    const chosen = blocks.find(([, radio]) => radio.checked)?.[0] ?? 'one';
    return {
      way: chosen, card: one.value, among: boxes.filter(({checked}) => checked).map(({value}) => value), otherwise: otherwise.value,
      folders: {...rule.folders, ...Object.fromEntries(each.map(([folder, field]) => [folder, field.value]))},
    };
  };
}
