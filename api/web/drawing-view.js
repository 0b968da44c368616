// The measured drawing. Touching a shape lights it here, on the photo and in the table.

import {drawingOf} from './drawing.js';
import {ask, make, makeSvg, show, touchedId} from './dom.js';
import {draftOf} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./logic.js').Layout} Layout */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const sheet = make('div', {className: 'drawing'});
  const part = make('figure', {className: 'picture'}, make('figcaption', {}, 'Measured drawing'), sheet);
  place.append(part);
  sheet.addEventListener('click', (event) => ask(place, 'pick-element', {id: touchedId(event)}));
  /** @type {Layout | null} */
  let shown = null;
  /** @type {number | null} */
  let lit = null;
  return {
    update(state) {
      const draft = draftOf(state.work);
      show(place, draft !== null);
      if (!draft || !state.work) return;
      if (draft.record === shown && state.work.picked === lit) return;
      [shown, lit] = [draft.record, state.work.picked];
      const {card, elements} = draft.record;
      sheet.style.setProperty('--aspect', String((card.width + 0.25) / (card.height + 0.25)));
      sheet.replaceChildren(makeSvg(drawingOf(draft.record, {sizes: true, picked: lit, name: 'drawing'})));
      if (elements.length === 0) {
        sheet.append(make('p', {className: 'blank'}, 'No elements: a plain card.'));
      }
    },
  };
}
