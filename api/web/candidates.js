// Several layouts on one photo: a row to look through, each kept or dropped.

import {drawingOf} from './drawing.js';
import {ask, make, makeSvg, setText, show} from './dom.js';
import {counted} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./logic.js').Draft} Draft */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const words = make('p', {});
  const row = make('ul', {className: 'candidates', role: 'list'});
  const part = make('section', {'aria-label': 'Layouts on this photo'}, words, row);
  place.append(part);
  /** @type {Draft[] | null} */
  let shown = null;
  return {
    update(state) {
      const {drafts = [], at = 0} = state.work ?? {};
      show(place, drafts.length > 1);
      setText(words, `${counted(drafts.length, 'layout')} on this photo. Look at each; drop what you do not want.`);
      if (drafts.length <= 1) {
        row.replaceChildren();
        shown = null;
        return;
      }
      if (shown?.length !== drafts.length) row.replaceChildren(...drafts.map((_, i) => candidate(place, i)));
      drafts.forEach((draft, i) => {
        const item = row.children[i];
        const [look, keep] = [item.querySelector('button'), item.querySelector('input')];
        if (!look || !keep) return;
        look.setAttribute('aria-pressed', String(i === at));
        keep.checked = draft.kept;
        item.classList.toggle('dropped', !draft.kept);
        if (shown?.[i]?.record !== draft.record) {
          const drawing = makeSvg(drawingOf(draft.record, {sizes: false, chosen: [], name: `candidate-${i}`}));
          drawing.setAttribute('aria-hidden', 'true');
          look.replaceChildren(drawing, make('span', {}, `Layout ${i + 1}`));
        }
      });
      shown = drafts;
    },
  };
}

/**
 * @param {HTMLElement} place
 * @param {number} at
 */
function candidate(place, at) {
  const keep = make('input', {
    type: 'checkbox', onchange: () => ask(place, 'keep-candidate', {at, kept: keep.checked}),
  });
  return make('li', {},
    make('button', {type: 'button', className: 'look', onclick: () => ask(place, 'choose-candidate', {at})}),
    make('label', {className: 'check'}, keep, make('span', {}, 'Keep', make('span', {className: 'heard'}, ` layout ${at + 1}`))));
}
