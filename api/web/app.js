// Mounts the parts and hands each the state after every change.

import {startActions} from './actions.js';
import * as candidates from './candidates.js';
import * as details from './details.js';
import {ask} from './dom.js';
import * as drawingView from './drawing-view.js';
import * as elementsTable from './elements-table.js';
import * as frame from './frame.js';
import * as intake from './intake.js';
import {draftOf} from './logic.js';
import * as notebook from './notebook.js';
import * as photoView from './photo-view.js';
import * as questions from './questions.js';
import * as saveBar from './save-bar.js';
import * as shapePanel from './shape-panel.js';
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
 * @returns {Part}
 */
function later(id, load, wanted) {
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
      load().then(({mount}) => {
        part = mount(place(id));
        if (latest) part.update(latest);
      }, () => {
        part = null;
        ask(place(id), 'part-missing');
      });
    },
  };
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
  shapePanel.mount(place('shape-panel')),
  questions.mount(place('questions')),
  elementsTable.mount(place('elements-table')),
  details.mount(place('details')),
  later('share', () => import('./share.js'), isSaved),
  later('versions', () => import('./versions.js'), isSaved),
  saveBar.mount(place('save-bar')),
  later('conflict', () => import('./conflict.js'), (state) => state.conflict !== null),
  later('recard', () => import('./recard.js'), (state) => state.recard),
];

startActions(document.body, (state) => parts.forEach((part) => part.update(state)));
