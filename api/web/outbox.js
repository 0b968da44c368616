// Saves that the service did not answer: kept in the browser until it does.
// Every window of the browser sees the same outbox; one sends at a time.

/** @typedef {import('./logic.js').Layout} Layout */
/**
 * @typedef {object} Waiting A save that waits.
 * @property {string} key
 * @property {string | null} id of the layout; null for a new one
 * @property {string | null} etag of the version it was made from
 * @property {Layout | null} base that version
 * @property {Layout} record what is to be saved
 * @property {boolean} [stale] whether somebody else saved in between: the person has to choose
 * @property {string} [fault] why the service refused it
 */

const PLACE = 'eighths.outbox';

/** @returns {Waiting[]} oldest first */
export function waiting() {
  try {
    return JSON.parse(localStorage.getItem(PLACE) ?? '[]');
  } catch {
    return [];
  }
}

/**
 * Puts a save in, or in place of the earlier one of the same layout.
 * @param {Waiting} save
 * @returns {boolean} whether the browser could keep it
 */
export function put(save) {
  const others = waiting().filter(({key}) => key !== save.key);
  return store([...others, save]);
}

/** @param {string} key */
export function take(key) {
  return store(waiting().filter((save) => save.key !== key));
}

/** The key of a save: one for each layout, a fresh one for each new layout. @param {string | null} id */
export const keyFor = (id) => (id === null ? `new ${Math.random().toString(36).slice(2)}` : `layout ${id}`);

/**
 * Runs with the outbox to itself, where the browser can promise that.
 * @param {() => Promise<void>} run
 */
export async function alone(run) {
  if (!navigator.locks) return run();
  return navigator.locks.request(PLACE, {ifAvailable: true}, async (lock) => { if (lock) await run(); });
}

/** @param {Waiting[]} saves */
function store(saves) {
  try {
    localStorage.setItem(PLACE, JSON.stringify(saves));
    return true;
  } catch {
    return false;
  }
}
