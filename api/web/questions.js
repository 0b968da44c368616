// What the reading was unsure of, in words, each answered with one tap or key.

import {ask, make, show, unbroken} from './dom.js';
import {draftOf, questionsOf} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Question} Question */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const list = make('ul', {role: 'list', className: 'questions'});
  const heading = make('h2', {tabIndex: -1}, 'Please check');
  const part = make('section', {className: 'paper ask'}, heading, list);
  place.append(part);
  /** @type {Layout | null} */
  let shown = null;
  return {
    update(state) {
      const record = draftOf(state.work)?.record ?? null;
      const questions = record ? questionsOf(record) : [];
      const warnings = record?.capture?.warnings ?? [];
      show(place, questions.length + warnings.length > 0);
      if (record === shown) return;
      const answered = list.contains(document.activeElement);
      shown = record;
      list.replaceChildren(
        ...questions.map((question) => questionItem(place, question)),
        ...warnings.map((warning) => make('li', {className: 'warning'}, sentence(warning))));
      // The button that was pressed is gone: go to the next question.
      if (answered) (list.querySelector('button') ?? (place.hidden ? document.getElementById('elements-heading') : heading))?.focus();
    },
  };
}

/**
 * @param {HTMLElement} place
 * @param {Question} question
 */
function questionItem(place, {element, text, answers}) {
  const buttons = answers.map(({label, side, size, keep}, i) => make('button', {
    type: 'button', className: 'button answer', 'aria-keyshortcuts': String(i + 1), 'aria-label': `${label}, for ${text}`,
    onclick: () => {
      if (side) ask(place, 'correct-element', {id: element, field: side, value: size});
      else ask(place, keep ? 'keep-element' : 'delete-element', {id: element});
    },
    onfocus: () => ask(place, 'near-element', {id: element}),
    onblur: () => ask(place, 'near-element', {id: null}),
  }, unbroken(label)));
  const item = make('li', {}, make('p', {}, unbroken(text)), make('div', {className: 'row'}, ...buttons));
  // 1 takes the first answer, 2 the second.
  item.addEventListener('keydown', (event) => buttons[Number(event.key) - 1]?.click());
  return item;
}

/** @param {string} text */
function sentence(text) {
  const begun = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.?]$/.test(begun) ? begun : `${begun}.`;
}
