// The batches of cards: those that are planned and those that were cut.

import {titleOfBatch} from './batch-logic.js';
import * as batchPage from './batch-page.js';
import {ask, make, setText, show} from './dom.js';
import {counted} from './logic.js';
import {dayWords} from './notebook-logic.js';
import {messageLine} from './screen-parts.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./batch-logic.js').SavedBatch} SavedBatch */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const message = messageLine();
  const words = make('p', {});
  const undo = make('div', {className: 'undo-bar', role: 'group', 'aria-label': 'Deleted batch'}, words,
    make('button', {type: 'button', id: 'undo-batch', className: 'button strong', onclick: () => ask(place, 'undo-batch')}, 'Undo'),
    make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'dismiss-batch')}, 'Leave it deleted'));
  const empty = make('div', {className: 'empty'},
    make('h2', {}, 'No batch yet'),
    make('p', {}, 'A batch is so many cards of some layouts, cut together from the papers of the drawer.'),
    make('ol', {},
      make('li', {}, 'Among your layouts press “Choose several”, tick some, and press “Make cards of these”; or open one layout and press “Begin a batch”.'),
      make('li', {}, 'Say how many cards. Each part gets a paper from the drawer; choose another where you like it better.'),
      make('li', {}, 'Print the sheets, cut, and press “It is cut”: the drawer is right again.')));
  const list = make('ul', {className: 'plain-list batch-list', role: 'list'});
  const home = make('div', {className: 'screen'},
    make('h1', {id: 'batches-heading', tabIndex: -1}, 'Your batches'), message.line, undo, empty, list);
  const one = make('div', {className: 'screen'});
  place.append(home, one);
  const page = batchPage.mount(one);
  /** @type {SavedBatch[] | null} */
  let shown = null;
  return {
    update(state) {
      show(place, state.view === 'batches');
      const {batches} = state;
      show(home, batches !== null && batches.open === null);
      page.update(state);
      if (!batches || batches.open) return;
      message.update(state.message);
      show(undo, batches.deleted !== null && !batches.deleted.cut);
      setText(words, batches.deleted ? `“${titleOfBatch(batches.deleted.record)}” is deleted.` : '');
      show(empty, batches.listed && batches.list.length === 0);
      if (shown === batches.list) return;
      shown = batches.list;
      list.replaceChildren(...shown.map(({id, savedAt, cutAt, record}) => make('li', {},
        make('a', {href: `#/batches/${id}`, id: `batch-${id}`}, titleOfBatch(record)),
        make('p', {className: 'help'}, `${counted(record.layouts.reduce((sum, {cards}) => sum + cards, 0), 'card')} of ${counted(record.layouts.length, 'layout')} · ${
          cutAt ? `cut on ${dayWords(cutAt)}` : `not cut yet, changed on ${dayWords(savedAt)}`}`))));
    },
  };
}
