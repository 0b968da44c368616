// Watches an import as it happens. Events come one by one and are handed on
// together, a few times a second. The browser connects again by itself, from
// where it was; a service that says there is nothing to watch is believed.

/** @typedef {import('./import-logic.js').FileResult} FileResult */
/** @typedef {import('./import-logic.js').Import} Import */

/** What came is handed on this often, in ms. */
const HAND_ON_MS = 250;
/** A feed that broke is opened again after so long, in ms. */
const AGAIN_MS = 3_000;
/** A connection that is not back after so long is told as lost, in ms. */
const LOST_MS = 2_000;

/**
 * @param {number} id
 * @param {number} after the last outcome that is known
 * @param {object} tell
 * @param {(files: FileResult[], now: Import | null) => boolean} tell.news whether it is over with that
 * @param {(lost: boolean) => void} tell.lost the connection was lost, or is back
 * @param {() => Promise<boolean>} tell.isGone whether the service says that there is nothing to watch
 * @returns {() => void} ends it
 */
export function watchImport(id, after, {news, lost, isGone}) {
  /** @type {FileResult[]} */
  let files = [];
  /** @type {Import | null} */
  let now = null;
  let last = after;
  let ended = false;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let losing;
  /** @type {EventSource} */
  let source;
  const end = () => {
    ended = true;
    clearTimeout(timer);
    clearTimeout(losing);
    source.close();
  };
  const handOn = () => {
    timer = undefined;
    const [some, whole] = [files, now];
    [files, now] = [[], null];
    if (news(some, whole)) end();
  };
  const soon = () => { timer ??= setTimeout(handOn, HAND_ON_MS); };
  const open = () => {
    source = new EventSource(`/api/imports/${id}/events?after=${last}`);
    source.onopen = () => {
      clearTimeout(losing);
      losing = undefined;
      lost(false);
    };
    source.addEventListener('file', ({data}) => {
      const file = /** @type {FileResult} */ (JSON.parse(data));
      last = Math.max(last, file.sequence);
      files.push(file);
      soon();
    });
    source.addEventListener('import', ({data}) => {
      now = JSON.parse(data);
      soon();
    });
    source.onerror = async () => {
      if (ended) return;
      losing ??= setTimeout(() => lost(true), LOST_MS);
      if (source.readyState !== EventSource.CLOSED) return;
      if (await isGone()) return end();
      setTimeout(() => { if (!ended) open(); }, AGAIN_MS);
    };
  };
  open();
  return end;
}
