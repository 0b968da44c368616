// A save was refused because the layout changed elsewhere: both versions stay.

import {ask, make} from './dom.js';

/** @typedef {import('./actions.js').Part} Part */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  /** @param {string} verb @param {string} text @param {string} [more] */
  const button = (verb, text, more = '') =>
    make('button', {type: 'button', className: `button ${more}`, onclick: () => ask(place, verb)}, text);
  const dialog = make('dialog', {className: 'conflict', 'aria-labelledby': 'conflict-heading'},
    make('h2', {id: 'conflict-heading'}, 'Changed somewhere else'),
    make('p', {}, 'This layout was saved in another window or on another device since you opened it. Your changes are still here and nothing was overwritten.'),
    make('div', {className: 'row'},
      button('save-copy', 'Save mine as a copy', 'strong'),
      button('take-theirs', 'Show the saved one'),
      button('close-conflict', 'Go on editing')),
    make('p', {className: 'help'}, 'After showing the saved one, Undo shows yours again.'));
  dialog.addEventListener('cancel', () => ask(place, 'close-conflict'));
  place.append(dialog);
  return {
    update({conflict}) {
      if (conflict && !dialog.open) dialog.showModal();
      if (!conflict && dialog.open) dialog.close();
    },
  };
}
