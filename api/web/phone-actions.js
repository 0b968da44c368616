// Carries out what the screen for phones asks for. Fetched when it is first opened.

import {call, Refusal} from './client.js';
import {newDevices} from './phone-logic.js';

/** @typedef {import('./phone-logic.js').Standing} Standing */
/**
 * @typedef {object} Phone
 * @property {Standing | null} standing null before it was fetched
 * @property {number} ends when the code ends, in ms
 * @property {boolean} elsewhere whether this is a device of the network itself
 */

/** Whether a device came in is asked this often while the screen is open, in ms. */
const LOOK_MS = 2_000;

/**
 * @param {import('./actions.js').ScreenTools} tools
 * @returns {import('./actions.js').Screen}
 */
export function actions({get, set, say, attempt, focusOn}) {
  /** @param {Standing} standing */
  function told(standing) {
    const before = get().phone?.standing?.devices;
    const ends = Date.now() + (standing.code?.seconds_left ?? 0) * 1000;
    set({phone: {standing, ends, elsewhere: false}});
    const added = newDevices(before, standing.devices);
    if (added.length > 0) say(`“${added.map(({name}) => name).join('”, “')}” is paired.`);
  }

  const fetchStanding = async () => (await call('GET', '/api/pairing')).body;

  /** Looks again as long as the screen is open. */
  let looking = false;
  async function look() {
    if (looking) return;
    looking = true;
    while (get().view === 'phone' && !get().phone?.elsewhere) {
      await new Promise((resolve) => setTimeout(resolve, LOOK_MS));
      if (document.hidden || get().busy || get().view !== 'phone') continue;
      // What goes wrong now is told when the person does something.
      const standing = await fetchStanding().catch(() => null);
      if (standing && !get().busy) told(standing);
    }
    looking = false;
  }

  return {
    async arrive() {
      await attempt('opening', async () => {
        const standing = await fetchStanding().catch((error) => {
          if (!(error instanceof Refusal) || error.status !== 403) throw error;
          return null;
        });
        if (standing) told(standing);
        else set({phone: {standing: null, ends: 0, elsewhere: true}});
      });
      void look();
      return 'phone-heading';
    },
    verbs: {
      'new-code': () => attempt('saving', async () => {
        told((await call('POST', '/api/pairing/code')).body);
        say('A new code. It is valid for ten minutes.');
      }),
      'end-pairing': (/** @type {{device: import('./phone-logic.js').Device}} */ {device}) => attempt('saving', async () => {
        await call('DELETE', `/api/pairing/devices/${device.id}`).catch((error) => {
          // It was ended elsewhere: what is wanted is so.
          if (!(error instanceof Refusal) || error.status !== 404) throw error;
        });
        told(await fetchStanding());
        say(`“${device.name}” is not paired any more.`);
        focusOn('devices-heading');
      }),
    },
  };
}
