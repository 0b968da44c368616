// The page at which a device is paired: a code, a name, one button.

import {call, Refusal} from './client.js';
import {setText} from './dom.js';

/** @template {HTMLElement} T @param {string} id @returns {T} */
const find = (id) => /** @type {T} */ (document.getElementById(id));
/** @type {HTMLFormElement} */
const form = find('pair');
/** @type {HTMLInputElement[]} */
const [code, name] = [find('code'), find('name')];
/** @type {HTMLButtonElement} */
const enter = find('enter');
const said = find('said');

/** @param {string} text */
function tell(text) {
  said.hidden = text === '';
  setText(said, text);
  if (text) code.setAttribute('aria-invalid', 'true');
  else code.removeAttribute('aria-invalid');
}

/** The code that was photographed stands behind the `#`; it leaves the address, and so the history. */
function takeCode() {
  const [digits] = /^\d{8}$/.exec(location.hash.slice(1)) ?? [];
  if (!digits) return;
  history.replaceState(null, '', location.pathname);
  code.value = `${digits.slice(0, 4)} ${digits.slice(4)}`;
  tell('');
  enter.focus();
}

form.addEventListener('submit', async (event) => {
  event.preventDefault();
  if (enter.getAttribute('aria-busy') === 'true') return;
  enter.setAttribute('aria-busy', 'true');
  tell('');
  try {
    await call('POST', '/api/pairing', {json: {code: code.value, name: name.value}});
    location.replace('/scan');
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    tell(error.status === 0 ? 'The computer does not answer. Is this device on the same network? Try again in a moment.' : error.message);
    code.focus();
  } finally {
    enter.removeAttribute('aria-busy');
  }
});
window.addEventListener('hashchange', takeCode);
takeCode();
