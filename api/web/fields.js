// Fields for lengths as makers write them, alone or between two step buttons.

import {make, setValue, show, unbroken} from './dom.js';
import {parseLength, showLength, stepOf} from './lengths.js';

/** @typedef {import('./lengths.js').Unit} Unit */
/** @typedef {import('./lengths.js').Step} Step */
/** @typedef {{value: number, unit: Unit}} Length */
/** @typedef {{input: HTMLInputElement, update: (now: Length) => void, by: (steps: number) => void}} LengthInput */

/**
 * An input that takes lengths on the grid, says what is wrong with others, and
 * steps with the arrow keys.
 * @param {object} options
 * @param {Step} options.step
 * @param {number} [options.least] in steps; sizes start at 1, places have no least
 * @param {(value: number) => void} options.change
 * @param {(message: string) => void} options.complain
 * @param {string} options.described id of the element that complains
 * @returns {LengthInput}
 */
export function lengthInput({step, least = step === 'size' ? 1 : -Infinity, change, complain, described}) {
  /** @type {Length | null} */
  let now = null;
  const input = make('input', {
    type: 'text', autocomplete: 'off', spellcheck: false, enterKeyHint: 'done', className: 'length', 'aria-describedby': described,
  });
  const restore = () => {
    if (now) input.value = showLength(now.value, now.unit);
    input.removeAttribute('aria-invalid');
    complain('');
  };
  const by = (/** @type {number} */ steps) => {
    if (!now) return;
    const value = now.value + steps * stepOf(now.unit, step);
    if (value < least * stepOf(now.unit, step)) return;
    change(value);
    restore();
  };
  input.addEventListener('change', () => {
    if (!now) return;
    const parsed = parseLength(input.value, now.unit, step);
    const fine = parsed.ok && parsed.value >= least * stepOf(now.unit, step);
    if (!fine) {
      input.setAttribute('aria-invalid', 'true');
      complain(unbroken(parsed.ok ? 'This is less than nothing. Write 0 or more.' : parsed.message));
      return;
    }
    change(parsed.value);
    restore();
  });
  input.addEventListener('keydown', (event) => {
    if (event.key === 'Escape') restore();
    if (event.key !== 'ArrowUp' && event.key !== 'ArrowDown') return;
    event.preventDefault();
    by(event.key === 'ArrowUp' ? 1 : -1);
  });
  return {
    input,
    by,
    update(length) {
      now = length;
      if (!input.hasAttribute('aria-invalid')) setValue(input, showLength(length.value, length.unit));
    },
  };
}

/**
 * A labelled length between a button that makes it less and one that makes it more.
 * @param {object} options
 * @param {string} options.id
 * @param {string} options.label
 * @param {Step} options.step
 * @param {number} [options.least]
 * @param {(value: number) => void} options.change
 */
export function lengthStepper({id, label, step, least, change}) {
  const fault = make('p', {className: 'fault', id: `${id}-fault`, hidden: true});
  const complain = (/** @type {string} */ message) => {
    fault.textContent = message;
    show(fault, message !== '');
  };
  const length = lengthInput({step, least, change, complain, described: fault.id});
  length.input.id = id;
  const button = (/** @type {string} */ sign, /** @type {string} */ name, /** @type {number} */ by) => make('button', {
    type: 'button', className: 'step', 'aria-label': `${label}: ${name}`, onclick: () => length.by(by),
  }, make('span', {'aria-hidden': 'true'}, sign));
  const root = make('div', {className: 'stepper'}, make('label', {htmlFor: id}, label),
    make('div', {className: 'stepped'}, button('−', 'less', -1), length.input, button('+', 'more', 1)), fault);
  return {root, update: length.update};
}

/**
 * A labelled choice.
 * @param {string} id
 * @param {string} label
 * @param {[string, string][]} choices value and words
 * @param {(value: string) => void} change
 */
export function choice(id, label, choices, change) {
  const select = make('select', {id, onchange: () => change(select.value)},
    ...choices.map(([value, words]) => make('option', {value}, words)));
  const root = make('div', {className: 'field'}, make('label', {htmlFor: id}, label), select);
  return {root, select};
}
