// What is on the table outlives the page: a reload, a closed window, a flat
// battery. Each window has a shelf of its own in the browser's storage; a
// window without work takes over what a closed one left.

/** @typedef {import('./logic.js').Work} Work */

const PREFIX = 'eighths.work.';
const OWN_NAME = 'eighths.window';
/** How often a window says that it is still there, in ms, and after how long without it counts as closed. */
const [ALIVE_MS, GONE_MS] = [4_000, 15_000];
/** Writing waits this long for the next change, in ms: a drag changes sixty times a second. */
const WRITE_MS = 400;
/** Earlier versions kept on the shelf for undo. */
const MOST_PAST = 20;

/**
 * @param {(work: Work) => boolean} worthKeeping
 * @returns {{work: Work | null, keep: (work: Work | null) => void}}
 */
export function openShelf(worthKeeping) {
  const own = ownName();
  /** @type {Work | null} */
  let latest = null;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  const write = (closed = false) => {
    clearTimeout(timer);
    timer = undefined;
    attempt(() => {
      if (!latest || !worthKeeping(latest)) {
        localStorage.removeItem(PREFIX + own);
        return;
      }
      const drafts = latest.drafts.map((draft) => ({...draft, past: draft.past.slice(-MOST_PAST), future: []}));
      localStorage.setItem(PREFIX + own, JSON.stringify({at: closed ? 0 : Date.now(), work: {...latest, drafts, near: null}}));
    });
  };
  setInterval(() => { if (latest) write(); }, ALIVE_MS);
  window.addEventListener('pagehide', () => write(true));
  latest = taken(own);
  return {
    work: latest,
    keep(work) {
      latest = work;
      if (timer === undefined) timer = setTimeout(write, WRITE_MS);
    },
  };
}

/** A name for this window that a reload keeps. */
function ownName() {
  return attempt(() => {
    const known = sessionStorage.getItem(OWN_NAME);
    if (known) return known;
    const fresh = Math.random().toString(36).slice(2);
    sessionStorage.setItem(OWN_NAME, fresh);
    return fresh;
  }) ?? 'only';
}

/**
 * This window's work, or else what a window that is gone has left.
 * @param {string} own
 * @returns {Work | null}
 */
function taken(own) {
  return attempt(() => {
    const keys = Object.keys(localStorage).filter((key) => key.startsWith(PREFIX));
    const mine = keys.includes(PREFIX + own) ? PREFIX + own : keys.find((key) => {
      const {at} = JSON.parse(localStorage.getItem(key) ?? '{}');
      return Date.now() - (at ?? 0) > GONE_MS;
    });
    if (!mine) return null;
    const {work} = JSON.parse(localStorage.getItem(mine) ?? '{}');
    if (mine !== PREFIX + own) localStorage.removeItem(mine);
    return work ?? null;
  }) ?? null;
}

/**
 * A browser that keeps nothing still works; only a reload forgets.
 * @template T
 * @param {() => T} run
 * @returns {T | null}
 */
function attempt(run) {
  try {
    return run();
  } catch {
    return null;
  }
}
