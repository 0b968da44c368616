// Cards of the open layout: what to cut, what is worth knowing, how it is put
// together, and its envelope.

import {MOST_CARDS, supplyWords, USUAL_CARDS} from './batch-logic.js';
import {ask, make, setText, show, unbroken} from './dom.js';
import {wholeNumber} from './drawer-logic.js';
import {draftOf, isChanged, titleOf} from './logic.js';
import {showFaults, tableOf, textField} from './screen-parts.js';

/** @typedef {import('./actions.js').Part} Part */
/**
 * @typedef {object} Made What it takes to make cards of a layout, as the service tells it.
 * @property {{number: number, paper: string, size: string, count: number, finish: {words: string} | null, score: {words: string} | null, uses: {words: string}[]}[]} pieces
 * @property {{words: string}[]} marks
 * @property {{words: string}[]} left_out
 * @property {{findings: {words: string}[], problem: string | null}} advice
 * @property {{steps: {words: string}[], cautions: string[]}} assembly
 * @property {{words: string[], post: {service: string, class: string, because: string[], look_at: string[]}[], checked: string}} envelope
 */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const {input: cards, root: field} = textField('making-cards', 'Cards', {inputMode: 'numeric', value: String(USUAL_CARDS)});
  const trouble = make('p', {className: 'trouble', hidden: true});
  const old = make('p', {className: 'help'}, 'Your changes are not saved yet: this is the layout as it was saved.');
  const begin = make('button', {type: 'button', className: 'button', id: 'begin-batch'}, 'Begin a batch');
  const list = make('a', {className: 'button', target: '_blank', rel: 'noopener'}, 'Cut list (PDF)');
  const table = make('a', {className: 'button'}, 'Cut list (CSV)');
  const steps = make('a', {className: 'button', target: '_blank', rel: 'noopener'}, 'Assembly (PDF)');
  const told = make('div', {className: 'making'});
  const form = make('form', {className: 'paper', 'aria-labelledby': 'making-heading', noValidate: true},
    make('h2', {id: 'making-heading'}, 'Make cards'),
    old,
    make('div', {className: 'making-ask'},
      field,
      make('button', {className: 'button strong'}, 'What to cut'), begin),
    trouble, make('div', {className: 'row'}, list, table, steps), told);
  place.append(form);

  /** @type {string | null} */
  let id = null;
  let title = '';
  /** @type {import('./lengths.js').Unit} */
  let unit = 'in';
  const number = () => wholeNumber(cards.value, 1, MOST_CARDS);
  const setLinks = () => {
    const asked = `?cards=${number() ?? USUAL_CARDS}`;
    const path = `/api/layouts/${encodeURIComponent(id ?? '')}`;
    list.href = `${path}/pieces.pdf${asked}`;
    Object.assign(table, {href: `${path}/pieces.csv${asked}`, download: 'pieces.csv'});
    steps.href = `${path}/assembly.pdf${asked}`;
  };
  cards.addEventListener('change', setLinks);
  begin.addEventListener('click', () => ask(place, 'begin-batch', {layouts: [{id, title, unit, cards: number() ?? USUAL_CARDS}]}));
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const count = number();
    showFaults(form, count === null ? {[cards.id]: `Write a number of cards, from 1 to ${MOST_CARDS}.`} : {});
    if (count !== null) ask(place, 'load-making', {id, cards: count});
  });
  /** @type {unknown} */
  let shown = null;
  return {
    update({work, view, making}) {
      const draft = draftOf(work);
      const now = view === 'work' ? draft?.id ?? null : null;
      show(place, now !== null);
      if (now === null || !draft) return;
      show(old, isChanged(draft));
      title = titleOf(draft.saved ?? draft.record);
      ({unit} = draft.record);
      if (now !== id) {
        id = now;
        showFaults(form, {});
        setLinks();
      }
      const mine = making?.id === id ? making : null;
      if (mine === shown) return;
      shown = mine;
      told.replaceChildren(...(mine?.made ? partsOf(mine.made) : []));
      show(trouble, (mine?.trouble ?? '') !== '');
      setText(trouble, mine?.trouble ?? '');
    },
  };
}

/** @param {Made} made */
function partsOf({pieces, marks, left_out: leftOut, advice, assembly, envelope}) {
  const items = (/** @type {string[]} */ words) => words.map((one) => make('li', {}, one));
  const rows = pieces.map(({paper, size, count, finish, score, uses}) =>
    [unbroken(`${count} of ${size}`), supplyWords(paper), [...uses.map(({words}) => words), finish?.words ?? '', score?.words ?? ''].filter(Boolean).join('; ')]);
  const heading = (/** @type {string} */ words) => make('h3', {}, words);
  const findings = advice.findings.map(({words}) => words);
  return [
    make('h3', {id: 'making-pieces', tabIndex: -1}, 'What to cut'),
    tableOf('What to cut', ['Cut', 'From', 'For'], rows),
    make('ul', {}, ...items([...marks.map(({words}) => `${words}: punched, bought or made by hand`), ...leftOut.map(({words}) => words)])),
    ...(findings.length > 0 || advice.problem ? [heading('Worth knowing'), make('ul', {}, ...items(advice.problem ? [advice.problem] : findings))] : []),
    heading('Put one together'),
    make('ol', {}, ...items(assembly.steps.map(({words}) => words))),
    make('ul', {className: 'help'}, ...items(assembly.cautions)),
    heading('Envelope and post'),
    make('ul', {}, ...items([...envelope.words, ...envelope.post.map((one) =>
      `${one.service}: ${one.class}${one.because.length > 0 ? `, because ${one.because.join(', and ')}` : ''}${one.look_at.length > 0 ? `. Look at: ${one.look_at.join('; ')}` : ''}`)])),
    make('p', {className: 'help'}, envelope.checked),
  ].filter((part) => part.childNodes.length > 0);
}
