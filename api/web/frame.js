// The page around the parts: which view is shown, its heading and title.

import {setText, show} from './dom.js';
import {cardText, draftOf, titleOf} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */

/**
 * @param {HTMLElement} main
 * @returns {Part}
 */
export function mount(main) {
  /** @param {string} id */
  const find = (id) => /** @type {HTMLElement} */ (main.querySelector(`#${id}`));
  const [home, work, heading, card] = ['home', 'work', 'work-heading', 'work-card'].map(find);
  return {
    update(state) {
      show(home, state.view === 'home');
      show(work, state.view === 'work');
      main.setAttribute('aria-busy', String(state.busy !== null));
      const draft = draftOf(state.work);
      work.classList.toggle('alone', draft === null);
      const isNew = draft?.id === null;
      setText(heading, !draft ? 'Where is the card?' : isNew ? 'Check and save' : titleOf(draft.record));
      setText(card, draft ? cardText(draft.record) : '');
      const title = state.view === 'work' ? heading.textContent : 'Your layouts';
      const whole = `${title} · eighths`;
      if (document.title !== whole) document.title = whole;
    },
  };
}
