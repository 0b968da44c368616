// Always in reach below the work: what happened last, undo, redo, save.

import {ask, make, setText, show} from './dom.js';
import {draftOf, toSave} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const message = make('p', {className: 'message'});
  const undo = make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'undo-edit')}, 'Undo');
  const redo = make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'redo-edit')}, 'Redo');
  const save = make('button', {
    type: 'button', className: 'button strong', id: 'save', onclick: () => ask(place, 'save-layouts'),
  });
  const bar = make('div', {className: 'save-bar', role: 'group', 'aria-label': 'Undo and save'}, message, undo, redo, save);
  place.append(bar);
  return {
    update(state) {
      const {work, busy} = state;
      const draft = draftOf(work);
      show(bar, draft !== null);
      const waiting = work ? toSave(work).length : 0;
      const several = (work?.drafts.length ?? 0) > 1;
      undo.disabled = !draft?.past.length;
      redo.disabled = !draft?.future.length;
      show(redo, draft !== null && draft.future.length > 0);
      save.disabled = waiting === 0 || busy !== null;
      const verb = draft?.id ? 'Save changes' : 'Save layout';
      setText(save, busy === 'saving' ? 'Saving…' : several ? `Save ${waiting} of ${work?.drafts.length}` : verb);
      const quiet = draft?.id && waiting === 0 ? 'Everything is saved.' : '';
      setText(message, state.message.text || quiet);
      message.classList.toggle('bad', state.message.bad);
    },
  };
}
