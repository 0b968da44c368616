// A layout was deleted: one press brings it back. It stays until dismissed.

import {ask, make, setText, show} from './dom.js';
import {titleOf} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const words = make('p', {});
  const bar = make('div', {className: 'undo-bar', role: 'group', 'aria-label': 'Deleted layout'}, words,
    make('button', {
      type: 'button', id: 'undo-delete', className: 'button strong', onclick: () => ask(place, 'undo-delete'),
    }, 'Undo'),
    make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'dismiss-undo')}, 'Leave it deleted'));
  place.append(bar);
  return {
    update({deleted}) {
      show(bar, deleted !== null);
      setText(words, deleted ? `“${titleOf(deleted.record)}” is deleted.` : '');
    },
  };
}
