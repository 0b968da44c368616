// The saved layouts as a grid of small drawings.

import {drawingUrl} from './client.js';
import {ask, make, show} from './dom.js';
import {cardText, counted, titleOf} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./client.js').Stored} Stored */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const count = make('p', {className: 'count'});
  const grid = make('ul', {className: 'grid', role: 'list'});
  const more = make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'show-more')}, 'Show more');
  const empty = make('div', {className: 'empty'},
    make('h2', {}, 'Nothing saved yet'),
    make('ol', {},
      make('li', {}, 'Lay the drawing flat, in even light, and photograph it from straight above.'),
      make('li', {}, 'Check what was read: sizes come in eighths, and anything unsure is asked in words.'),
      make('li', {}, 'Save it. It waits here, measured, for the next set of cards.')));
  place.replaceChildren(empty, count, grid, more);

  /** @type {unknown} */
  let shown = null;
  return {
    update(state) {
      show(empty, state.listed && state.list.length === 0);
      show(count, state.list.length > 0);
      const said = state.message.bad ? '' : state.message.text;
      show(more, state.list.length < state.total);
      count.textContent = [counted(state.total, 'layout'), said].filter(Boolean).join(' · ');
      if (state.list === shown) return;
      shown = state.list;
      grid.replaceChildren(...state.list.map(tile));
    },
  };
}

/** @param {Stored} stored */
function tile(stored) {
  const {id, record} = stored;
  const {elements, tags} = record;
  return make('li', {},
    make('a', {href: `#/layouts/${encodeURIComponent(id)}`, id: `layout-${id}`, className: 'tile'},
      make('span', {className: 'tile-picture'},
        make('img', {src: drawingUrl(stored), alt: '', loading: 'lazy', width: 160, height: 180})),
      make('span', {className: 'tile-title'}, titleOf(record)),
      make('span', {className: 'tile-facts'}, `${cardText(record)} · ${counted(elements.length, 'element')}`),
      ...(tags.length > 0 ? [make('span', {className: 'tile-facts'}, tags.join(', '))] : [])));
}
