// The screen of imports: those that there are, the question which card new
// files are for, or one import.

import {ask, make, setText, show} from './dom.js';
import * as importForm from './import-form.js';
import {countsWords, many, stateWords, whenWords} from './import-logic.js';
import * as importPage from './import-page.js';
import {messageLine, renew} from './screen-parts.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./import-logic.js').Import} Import */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const message = messageLine();
  const chooser = (/** @type {string} */ id, /** @type {string} */ label, /** @type {boolean} */ folder) => {
    const input = make('input', {type: 'file', id, multiple: true, webkitdirectory: folder, className: 'heard', onchange: () => {
      const files = [...input.files ?? []];
      if (files.length > 0) ask(place, 'take-many', {files});
      input.value = '';
    }});
    return make('span', {className: 'file'}, input, make('label', {htmlFor: id, className: folder ? 'button' : 'button strong'}, label));
  };
  const drop = make('div', {className: 'drop'},
    make('div', {className: 'drop-words'},
      make('h2', {}, 'Read many drawings in one go'),
      make('p', {}, 'Drop a whole folder here, or many photos and scans, a PDF of many pages, a zip archive. They are read one after another while you do something else, and what needs a look is shown first.')),
    make('div', {className: 'drop-actions'}, chooser('choose-many', 'Choose files', false), chooser('choose-many-folder', 'Choose a folder', true)));
  const going = make('p', {className: 'help'});
  const ready = make('p', {className: 'waiting'}, make('span', {}), make('a', {href: '#/imports/new', className: 'button strong'}, 'Say which card'));
  const count = make('p', {className: 'help'});
  const list = make('ul', {className: 'plain-list import-list', role: 'list'});
  const home = make('div', {className: 'screen'},
    make('h1', {id: 'imports-heading', tabIndex: -1}, 'Your imports'), message.line, drop, ready, going, count, list);
  const form = make('div', {className: 'screen'});
  const one = make('div', {className: 'screen'});
  place.append(home, form, one);
  const parts = [importForm.mount(form), importPage.mount(one)];
  /** @type {Import[] | null} */
  let shown = null;
  return {
    update(state) {
      show(place, state.view === 'imports');
      if (state.view !== 'imports') return;
      const {imports} = state;
      const atForm = imports?.drop != null && imports.open === null && location.hash === '#/imports/new';
      show(home, imports !== null && imports.open === null && !atForm);
      show(form, atForm);
      for (const part of parts) part.update(state);
      if (!imports || imports.open || atForm) return;
      message.update(state.message);
      show(ready, imports.drop !== null);
      setText(/** @type {Element} */ (ready.firstElementChild), imports.drop ? `${many(imports.drop.files.length, 'file')} wait to be read.` : '');
      const nameless = imports.sending.filter(({id}) => id === null);
      show(going, nameless.length > 0);
      setText(going, nameless.map(({trouble}) => trouble || 'The files are on their way…').join(' '));
      show(count, imports.total > imports.list.length);
      setText(count, `The newest ${imports.list.length} of ${imports.total}.`);
      if (shown === imports.list) return;
      shown = imports.list;
      renew(list, shown.map((one) => row(place, one, imports.sending.some(({id}) => id === one.id))));
    },
  };
}

/** @param {HTMLElement} place @param {Import} now @param {boolean} sending whether this window still sends files to it */
function row(place, now, sending) {
  const {id, made_at: made, state, open, counts} = now;
  const waits = open && !sending && state !== 'canceled' && state !== 'done';
  return make('li', {},
    make('a', {href: `#/imports/${id}`, id: `import-${id}`}, whenWords(made)),
    make('p', {}, make('strong', {className: `import-state ${state}`}, stateWords(now)),
      ...(state === 'done' ? [] : [` · ${counts.files_done} of ${many(counts.files, 'file')} read`])),
    make('p', {className: 'help'}, countsWords(counts)),
    ...(waits ? [make('div', {className: 'row'},
      make('p', {className: 'help'}, 'It was left open for more files.'),
      make('button', {type: 'button', className: 'button small', id: `close-import-${id}`, 'aria-label': `No more files come to the import of ${whenWords(made)}`,
        onclick: () => ask(place, 'close-import', {id})}, 'No more files come'))] : []));
}
