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
  const back = /** @type {HTMLAnchorElement} */ (work.querySelector('.back'));
  const ways = [...document.querySelectorAll('.masthead nav a')];
  // The address says which screen is shown, so the link of its own would lead away.
  document.querySelector('.skip')?.addEventListener('click', (event) => {
    event.preventDefault();
    main.focus();
  });
  return {
    update(state) {
      show(home, state.view === 'home');
      show(work, state.view === 'work');
      const at = state.view === 'home' || state.view === 'work' ? '#/' : `#/${state.view}`;
      for (const way of ways) {
        if (way.getAttribute('href') === at) way.setAttribute('aria-current', 'page');
        else way.removeAttribute('aria-current');
      }
      // Whoever came from an import goes back to it.
      back.href = state.back ?? '#/';
      setText(/** @type {Element} */ (back.lastElementChild), state.back ? 'The import' : 'Your layouts');
      main.setAttribute('aria-busy', String(state.busy !== null));
      const draft = draftOf(state.work);
      work.classList.toggle('alone', draft === null);
      const isNew = draft?.id === null;
      setText(heading, !draft ? 'Where is the card?' : isNew ? 'Check and save' : titleOf(draft.record));
      setText(card, draft ? cardText(draft.record) : '');
      const title = {home: 'Your layouts', work: heading.textContent, papers: 'Papers', batches: 'Batches', imports: 'Imports', phone: 'Use a phone'}[state.view];
      const whole = `${title} · eighths`;
      if (document.title !== whole) document.title = whole;
    },
  };
}
