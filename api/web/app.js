// Mounts the parts and hands each the state after every change.

import {startActions} from './actions.js';
import * as candidates from './candidates.js';
import * as details from './details.js';
import {ask, make} from './dom.js';
import * as drawingView from './drawing-view.js';
import * as elementsTable from './elements-table.js';
import * as frame from './frame.js';
import * as intake from './intake.js';
import {draftOf} from './logic.js';
import * as notebook from './notebook.js';
import * as photoView from './photo-view.js';
import * as questions from './questions.js';
import * as saveBar from './save-bar.js';
import * as undoBar from './undo-bar.js';
import * as waitingBar from './waiting-bar.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./actions.js').State} State */

/** @param {string} id */
function place(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error(`index.html has no place called ${id}`);
  return element;
}

/**
 * A part that is fetched when it is first wanted: most visits never do.
 * @param {string} id
 * @param {() => Promise<{mount: (place: HTMLElement) => Part}>} load
 * @param {(state: State) => boolean} wanted
 * @param {string[]} sheets its style sheets, if the page has not linked them
 * @returns {Part}
 */
function later(id, load, wanted, ...sheets) {
  /** @type {Part | 'loading' | null} */
  let part = null;
  /** @type {State | null} */
  let latest = null;
  return {
    update(state) {
      latest = state;
      if (part === 'loading') return;
      if (part) part.update(state);
      if (part || !wanted(state)) return;
      part = 'loading';
      Promise.all([load(), ...sheets.map(styled)]).then(([{mount}]) => {
        part = mount(place(id));
        if (latest) part.update(latest);
      }, () => {
        part = null;
        ask(place(id), 'part-missing');
      });
    },
  };
}

/** Links a style sheet once; settles when it is there. @param {string} href */
function styled(href) {
  if (document.querySelector(`link[href="${href}"]`)) return;
  const link = make('link', {rel: 'stylesheet', href});
  document.head.append(link);
  return new Promise((resolve, reject) => Object.assign(link, {onload: resolve, onerror: reject}));
}

/** @param {State} state */
const isSaved = ({work}) => (draftOf(work)?.id ?? null) !== null;

const parts = [
  frame.mount(place('main')),
  waitingBar.mount(place('waiting-bar')),
  intake.mount(place('intake')),
  undoBar.mount(place('undo-bar')),
  notebook.mount(place('notebook')),
  candidates.mount(place('candidates')),
  photoView.mount(place('photo-view')),
  drawingView.mount(place('drawing-view')),
  later('shape-panel', () => import('./shape-panel.js'), ({work}) => draftOf(work) !== null),
  questions.mount(place('questions')),
  elementsTable.mount(place('elements-table')),
  details.mount(place('details')),
  later('making', () => import('./making.js'), isSaved, 'screen-parts.css', 'making.css'),
  later('share', () => import('./share.js'), isSaved, 'share.css'),
  later('versions', () => import('./versions.js'), isSaved, 'versions.css'),
  saveBar.mount(place('save-bar')),
  later('conflict', () => import('./conflict.js'), (state) => state.conflict !== null, 'conflict.css', 'versions.css'),
  later('recard', () => import('./recard.js'), (state) => state.recard, 'conflict.css', 'versions.css'),
  later('papers', () => import('./drawer.js'), ({view}) => view === 'papers', 'screen-parts.css', 'drawer.css'),
  later('batches', () => import('./batches.js'), ({view}) => view === 'batches', 'screen-parts.css', 'batches.css'),
];

startActions(document.body, (state) => parts.forEach((part) => part.update(state)));
