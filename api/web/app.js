// Mounts the parts and hands each the state after every change.

import {startActions} from './actions.js';
import * as candidates from './candidates.js';
import * as details from './details.js';
import {ask} from './dom.js';
import * as drawingView from './drawing-view.js';
import * as elementsTable from './elements-table.js';
import {fetchModule, fetchStyle} from './fetched.js';
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
 * @param {string} file the module
 * @param {(state: State) => boolean} wanted
 * @param {string[]} sheets its style sheets, if the page has not linked them
 * @returns {Part}
 */
function later(id, file, wanted, ...sheets) {
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
      Promise.all([fetchModule(file), ...sheets.map(fetchStyle)]).then(([{mount}]) => {
        const mounted = /** @type {Part} */ (mount(place(id)));
        part = mounted;
        if (latest) mounted.update(latest);
      }, () => {
        // Told first: what is set then would fetch it again at once.
        ask(place(id), 'part-missing');
        part = null;
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
  later('shape-panel', 'shape-panel.js', ({work}) => draftOf(work) !== null),
  questions.mount(place('questions')),
  elementsTable.mount(place('elements-table')),
  details.mount(place('details')),
  later('making', 'making.js', isSaved, 'screen-parts.css', 'making.css'),
  later('share', 'share.js', isSaved, 'share.css'),
  later('versions', 'versions.js', isSaved, 'versions.css'),
  saveBar.mount(place('save-bar')),
  later('conflict', 'conflict.js', (state) => state.conflict !== null, 'conflict.css', 'versions.css'),
  later('recard', 'recard.js', (state) => state.recard, 'conflict.css', 'versions.css'),
  later('papers', 'drawer.js', ({view}) => view === 'papers', 'screen-parts.css', 'drawer.css'),
  later('phone', 'phone.js', ({view}) => view === 'phone', 'screen-parts.css', 'phone.css'),
  later('batches', 'batches.js', ({view}) => view === 'batches', 'screen-parts.css', 'batches.css'),
  later('imports', 'imports.js', ({view}) => view === 'imports', 'screen-parts.css', 'imports.css'),
];

startActions(document.body, (state) => parts.forEach((part) => part.update(state)));
