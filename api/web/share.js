// The open layout on paper, as a picture, as data; and how often it was used.

import {ask, make, show} from './dom.js';
import {draftOf, isChanged} from './logic.js';
import {printUrl} from './notebook-client.js';
import {fileName, useWords} from './notebook-logic.js';

/** @typedef {import('./actions.js').Part} Part */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const paper = make('select', {id: 'print-paper'},
    ...[['', 'Usual for this card'], ['letter', 'Letter'], ['a4', 'A4']].map(([value, label]) => make('option', {value}, label)));
  const print = make('a', {className: 'button strong', target: '_blank', rel: 'noopener'}, 'Print (PDF)');
  const picture = make('a', {className: 'button'}, 'Picture (PNG)');
  const drawing = make('a', {className: 'button'}, 'Drawing (SVG)');
  const data = make('a', {className: 'button'}, 'Data (JSON)');
  const old = make('p', {className: 'help'}, 'Your changes are not saved yet: what is printed is the layout as it was saved.');
  const used = make('p', {});
  const star = make('button', {type: 'button', className: 'button', id: 'open-favourite'});
  const count = make('button', {type: 'button', className: 'button', id: 'count-use'}, 'I made cards with it');
  const back = make('button', {type: 'button', className: 'button quiet'}, 'Take back');
  place.append(
    make('section', {className: 'paper', 'aria-labelledby': 'share-heading'},
      make('h2', {id: 'share-heading'}, 'Print and share'),
      make('p', {className: 'help'}, 'The drawing is printed at true scale, with its sizes and a bar to hold a ruler to. Choose “actual size” in the printer’s window.'),
      old,
      make('div', {className: 'row'}, print, picture, drawing, data),
      make('div', {className: 'field print-paper'}, make('label', {htmlFor: 'print-paper'}, 'Paper'), paper)),
    make('section', {className: 'paper', 'aria-labelledby': 'use-heading'},
      make('h2', {id: 'use-heading'}, 'Use'), used, make('div', {className: 'row'}, count, back, star)));
  /** @type {string | null} */
  let id = null;
  let favourite = false;
  const setPrint = () => { if (id) print.href = printUrl(id, 'pdf', paper.value); };
  paper.addEventListener('change', setPrint);
  star.addEventListener('click', () => ask(place, 'mark-favourite', {id, favourite: !favourite}));
  count.addEventListener('click', () => ask(place, 'count-use', {id, used: true}));
  back.addEventListener('click', () => ask(place, 'count-use', {id, used: false}));
  return {
    update({work, shelf, view}) {
      const draft = draftOf(work);
      const now = view === 'work' ? draft?.id ?? null : null;
      show(place, now !== null);
      if (now === null || !draft) {
        id = null;
        return;
      }
      show(old, isChanged(draft));
      const name = fileName((draft.saved ?? draft.record).title);
      const links = /** @type {const} */ ([[picture, printUrl(now, 'png'), 'png'], [drawing, printUrl(now, 'svg'), 'svg'],
        [data, `/api/layouts/${encodeURIComponent(now)}`, 'json']]);
      for (const [link, href, ending] of links) Object.assign(link, {href, download: `${name}.${ending}`});
      const mine = shelf?.id === now ? shelf.shelf : null;
      used.textContent = mine ? `${useWords(mine)}.` : '';
      favourite = mine?.favourite ?? false;
      star.setAttribute('aria-pressed', String(favourite));
      star.textContent = `${favourite ? '★' : '☆'} Favourite`;
      show(back, (mine?.uses ?? 0) > 0);
      if (now !== id) {
        id = now;
        setPrint();
        ask(place, 'load-shelf', {id});
      }
    },
  };
}
