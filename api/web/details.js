// What the maker calls a layout and wants to remember of it.

import {ask, make, setValue, show} from './dom.js';
import {draftOf, parseTags} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const title = make('input', {
    type: 'text', id: 'title', maxLength: 200, autocomplete: 'off',
    onchange: () => ask(place, 'describe-layout', {title: title.value.trim()}),
  });
  const tags = make('input', {
    type: 'text', id: 'tags', autocomplete: 'off', 'aria-describedby': 'tags-help',
    onchange: () => ask(place, 'describe-layout', {tags: parseTags(tags.value)}),
  });
  const notes = make('textarea', {
    id: 'notes', rows: 3, maxLength: 20000,
    onchange: () => ask(place, 'describe-layout', {notes: notes.value}),
  });
  const recard = make('button', {
    type: 'button', className: 'button', id: 'open-recard', onclick: () => ask(place, 'open-recard'),
  }, 'Copy to another card size');
  const remove = make('button', {
    type: 'button', className: 'button quiet', id: 'delete-layout', onclick: () => ask(place, 'delete-layout'),
  }, 'Delete this layout');
  const discard = make('button', {
    type: 'button', className: 'button quiet', onclick: () => ask(place, 'discard-work'),
  }, 'Discard this photo');
  const fields = make('div', {className: 'fields'},
    make('div', {className: 'field'}, make('label', {htmlFor: 'title'}, 'Title'), title),
    make('div', {className: 'field'}, make('label', {htmlFor: 'tags'}, 'Tags'), tags,
      make('p', {id: 'tags-help', className: 'help'}, 'Short words with commas between, such as thank you, quick.')),
    make('div', {className: 'field'}, make('label', {htmlFor: 'notes'}, 'Notes'), notes));
  const heading = make('h2', {}, 'About this layout');
  const part = make('section', {className: 'paper'}, heading, fields, make('div', {className: 'row'}, recard, remove, discard));
  place.append(part);
  return {
    update(state) {
      const draft = draftOf(state.work);
      show(part, state.work !== null);
      show(heading, draft !== null);
      show(fields, draft !== null);
      show(recard, draft !== null);
      show(remove, draft !== null && draft.id !== null);
      show(discard, draft?.id == null);
      if (!draft) return;
      setValue(title, draft.record.title);
      setValue(tags, draft.record.tags.join(', '));
      setValue(notes, draft.record.notes);
    },
  };
}
