// What the screens of the drawer and of the batches are put together from.

import {ask, make, makeSvg, setText, show, unbroken} from './dom.js';
import {colourNames, countWords, swatchOf} from './drawer-logic.js';

/** @typedef {import('./drawer-logic.js').SavedPaper} SavedPaper */
/** @typedef {import('./drawer-logic.js').Face} Face */
/** @typedef {import('./drawer-logic.js').Faults} Faults */

/** The colour of a swatch whose colour no browser knows. */
const UNKNOWN_COLOUR = '#efe7d8';

/**
 * How many there are, between a button that takes one and one that adds one.
 * @param {HTMLElement} place
 * @param {SavedPaper} saved
 * @param {string} [prefix] of the buttons' ids
 */
export function counter(place, saved, prefix = 'list') {
  const {id, paper} = saved;
  const button = (/** @type {string} */ sign, /** @type {string} */ name, /** @type {number} */ by) => make('button', {
    type: 'button', className: 'button small', id: `${prefix}-${name}-${id}`, disabled: by < 0 && paper.count === 0,
    'aria-label': `One ${name} of ${paper.name}`, onclick: () => ask(place, 'count-sheets', {saved, by}),
  }, make('span', {'aria-hidden': 'true'}, sign));
  return make('div', {className: 'counter'}, button('−', 'less', -1), make('span', {}, countWords(paper)), button('+', 'more', 1));
}

/** A small drawing of each face; words beside it say the same. @param {Face[]} faces */
export function swatches(faces) {
  return make('div', {className: 'swatches'}, ...faces.map((face) => {
    const fill = [...colourNames(face.colour), ...colourNames(face.name)].find((name) => CSS.supports('color', name));
    return makeSvg(swatchOf(face, fill ?? UNKNOWN_COLOUR));
  }));
}

/** What was done, or why not, at the head of a screen. */
export function messageLine() {
  const line = make('p', {className: 'message'});
  return {
    line,
    /** @param {{text: string, bad: boolean}} message */
    update({text, bad}) {
      show(line, text !== '');
      setText(line, text);
      line.classList.toggle('problem', bad);
    },
  };
}

/**
 * A labelled field with room for what is wrong with it.
 * @param {string} id
 * @param {string} label
 * @param {Record<string, unknown>} [properties]
 */
export function textField(id, label, properties = {}) {
  const input = make('input', {type: 'text', id, autocomplete: 'off', 'aria-describedby': `${id}-fault`, ...properties});
  const fault = make('p', {className: 'fault', id: `${id}-fault`, hidden: true});
  return {input, root: make('div', {className: 'field'}, make('label', {htmlFor: id}, label), input, fault)};
}

/**
 * Says what is wrong at each field; the keyboard goes to the first.
 * @param {HTMLElement} form
 * @param {Faults} faults
 */
export function showFaults(form, faults) {
  for (const input of form.querySelectorAll('input')) {
    const text = faults[input.id];
    if (text) input.setAttribute('aria-invalid', 'true');
    else input.removeAttribute('aria-invalid');
    const fault = document.getElementById(`${input.id}-fault`);
    if (!fault) continue;
    setText(fault, unbroken(text ?? ''));
    show(fault, text !== undefined);
  }
  const first = form.querySelector('[aria-invalid]');
  if (!(first instanceof HTMLElement)) return;
  first.closest('details')?.setAttribute('open', '');
  first.focus();
}

/**
 * Puts other children into a part; the keyboard stays on what has the same id.
 * @param {HTMLElement} part
 * @param {Node[]} children
 */
export function renew(part, children) {
  const focused = part.contains(document.activeElement) ? document.activeElement?.id : '';
  part.replaceChildren(...children);
  if (focused) document.getElementById(focused)?.focus();
}

/**
 * @param {string} caption
 * @param {string[]} heads
 * @param {string[][]} rows the first cell of each is its head
 */
export function tableOf(caption, heads, rows) {
  const row = (/** @type {string[]} */ cells) => make('tr', {}, ...cells.map((cell, at) => (at === 0 ? make('th', {scope: 'row'}, cell) : make('td', {}, unbroken(cell)))));
  return make('table', {className: 'told'}, make('caption', {className: 'heard'}, caption),
    make('thead', {}, make('tr', {}, ...heads.map((head) => make('th', {scope: 'col'}, head)))),
    make('tbody', {}, ...rows.map(row)));
}
