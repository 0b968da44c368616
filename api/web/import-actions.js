// Carries out what imports ask for: taking files in, sending them, watching
// what comes of them, and what a person decides about it. Fetched when it is
// first wanted.

import {bringBack, call, openLayout, photoSize, Refusal, sentenceOf} from './client.js';
import {fetchModule, fetchStyle} from './fetched.js';
import * as logic from './import-logic.js';
import {begin, sendAll} from './import-send.js';
import {watchImport} from './import-watch.js';
import * as work from './logic.js';
import {findLayouts} from './notebook-client.js';

/** @typedef {import('./import-logic.js').Import} Import */
/** @typedef {import('./import-logic.js').Seen} Seen */
/** @typedef {import('./import-logic.js').Rule} Rule */
/** @typedef {{file: File, name: string, size: number, type: string}} Dropped */
/** @typedef {{files: Dropped[], leftOut: string[], folders: string[], rule: Rule}} Drop Files that wait for the word which card they are for. */
/** @typedef {{id: number | null, sent: number, total: number, trouble: string, stop: () => void}} Sending */
/** @typedef {{looked: ReadonlySet<number>, back: ReadonlySet<number>, byHand: Readonly<Record<string, number>>}} Notes What a person did about an import; the browser keeps it. */
/** @typedef {{id: number, gone: boolean, title: string, words: string, version: number, photo: {id: string, width: number, height: number} | null, corners: work.Point[]}} Side */
/** @typedef {{layout: number, like: number, file: string, now: Side, earlier: Side}} Pair */
/**
 * @typedef {object} OpenImport
 * @property {Import} now
 * @property {Seen} seen
 * @property {import('./import-logic.js').Sample[]} samples
 * @property {boolean} lost whether the connection is
 * @property {Notes} notes
 * @property {ReadonlyMap<number, number>} versions of layouts that were changed since, by their numbers
 * @property {Pair | null} pair two layouts that look the same, to be decided next
 * @property {{layout: number, title: string} | null} merged the last that was called the same
 * @property {string | null} left the tile that was left for the editor
 */
/**
 * @typedef {object} Imports
 * @property {Import[]} list
 * @property {boolean} listed
 * @property {number} total
 * @property {Drop | null} drop
 * @property {Sending[]} sending
 * @property {OpenImport | null} open
 */

/** Where the browser keeps the last rule, and what was done about each import. */
const RULE_PLACE = 'eighths.import-rule';
const NOTES_PLACE = 'eighths.import-notes.';
/** How far it is is said at most this often, in ms: nobody wants to hear more. */
const SAY_MS = 20_000;
/** The list is fetched again this often while something is read, in ms. */
const LIST_MS = 5_000;
/** Of the newest layouts so many are looked at for one whose corners were shown. */
const NEWEST = 5;

/**
 * @param {import('./actions.js').ScreenTools} tools
 * @returns {import('./actions.js').Screen}
 */
export function actions({get, set, say, tell, attempt, go, focusOn}) {
  /** @returns {Imports} */
  const imports = () => get().imports ?? {list: [], listed: false, total: 0, drop: null, sending: [], open: null};
  /** @param {Partial<Imports>} changes */
  const change = (changes) => set({imports: {...imports(), ...changes}});
  /** @param {Partial<OpenImport>} changes */
  const changeOpen = (changes) => {
    const {open} = imports();
    if (open) change({open: {...open, ...changes}});
  };
  const isOpen = (/** @type {number} */ id) => imports().open?.now.id === id;
  const groups = () => {
    const {open} = imports();
    return open ? logic.sortOut(open.seen, open.notes.back) : null;
  };

  /** @param {Partial<Notes>} changes */
  function note(changes) {
    const {open} = imports();
    if (!open) return;
    const notes = {...open.notes, ...changes};
    changeOpen({notes});
    keep(NOTES_PLACE + open.now.id, {looked: [...notes.looked], back: [...notes.back], byHand: notes.byHand});
  }

  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let listing;
  async function list() {
    clearTimeout(listing);
    try {
      const {body} = await call('GET', '/api/imports');
      change({list: body.imports, total: body.total, listed: true});
      const goesOn = imports().list.some(({state}) => state === 'running');
      if (goesOn) listing = setTimeout(() => { if (location.hash === '#/imports') void list(); }, LIST_MS);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      change({listed: true});
      say(error.message, true);
    }
  }

  /** @param {{files?: File[], entries?: (FileSystemEntry | null)[]}} given */
  async function takeIn({files = [], entries}) {
    // The screen is there by the time the keyboard goes to it.
    const screen = Promise.all([fetchModule('imports.js'), ...['screen-parts.css', 'imports.css'].map(fetchStyle)]).catch(() => null);
    const dropped = entries ? await filesIn(entries) : files.map((file) => dropOf(file, file.webkitRelativePath || file.name));
    const {drop} = imports();
    const before = drop?.files ?? [];
    // The same file dropped twice is one.
    const fresh = dropped.filter(({name, size}) => !before.some((one) => one.name === name && one.size === size));
    const {files: readable, leftOut} = logic.readable([...before, ...fresh]);
    if (readable.length === 0) {
      say(dropped.length === 0 ? 'There is nothing in this folder.' : 'There is no picture among these files: JPEG, PNG, WebP, TIFF, HEIC, PDF and zip archives of them can be read.', true);
      return;
    }
    const rule = drop?.rule ?? logic.ruleFrom(kept(RULE_PLACE), get().cards.map(({name}) => name));
    await screen;
    change({drop: {files: readable, leftOut: [...drop?.leftOut ?? [], ...leftOut], folders: logic.foldersOf(readable), rule: drop ? rule : {...rule, card: get().card}}});
    go('#/imports/new');
  }

  /** @param {Sending} one @param {Partial<Sending>} changes @returns {Sending} */
  function changeSending(one, changes) {
    const changed = {...one, ...changes};
    change({sending: imports().sending.map((other) => (other.stop === one.stop ? changed : other))});
    return changed;
  }

  /** @param {Rule} rule */
  async function send(rule) {
    const {drop} = imports();
    if (!drop) return;
    keep(RULE_PLACE, rule);
    const ending = new AbortController();
    /** @type {Sending} */
    let sending = {id: null, sent: 0, total: drop.files.length, trouble: '', stop: () => ending.abort()};
    change({drop: null, sending: [...imports().sending, sending]});
    const line = {
      call, signal: ending.signal, rest: (/** @type {number} */ ms) => restUntil(ms, ending.signal),
      waiting: (/** @type {string} */ trouble) => { if (trouble !== sending.trouble) sending = changeSending(sending, {trouble}); },
    };
    try {
      const begun = await begin(line, logic.ruleFields(rule, drop.folders));
      sending = changeSending(sending, {id: begun.id});
      if (location.hash === '#/imports/new') go(`#/imports/${begun.id}`);
      const lost = await sendAll(line, begun, logic.groupsOf(drop.files), (now, sent) => {
        sending = changeSending(sending, {sent});
        if (isOpen(now.id)) changeOpen({now});
      });
      if (lost.length > 0) say(`${logic.many(lost.length, 'file')} could not be read any more and stayed behind: ${lost.join(', ')}.`, true);
    } catch (error) {
      if (ending.signal.aborted) return;
      if (!(error instanceof Refusal)) throw error;
      // Nothing was begun: the files wait for another word.
      if (sending.id === null) change({drop: imports().drop ?? drop});
      say(sending.id === null ? error.message : `Sending stopped. ${error.message}`, true);
    } finally {
      change({sending: imports().sending.filter(({stop}) => stop !== sending.stop)});
    }
  }

  let unwatch = () => {};
  let saidAt = 0;
  /** @param {number} id */
  function watch(id) {
    unwatch();
    const {open} = imports();
    if (!open) return;
    unwatch = watchImport(id, open.seen.last, {
      news(files, whole) {
        const {open: before} = imports();
        if (before?.now.id !== id) return true;
        const now = whole ?? before.now;
        const seen = logic.withResults(before.seen, files);
        const done = now.counts.files_done;
        const samples = now.state === 'running' ? logic.withSample(before.samples, {at: Date.now(), done}) : [];
        changeOpen({now, seen, samples, lost: false});
        void nextPair();
        const over = logic.isOver(now, seen);
        if (over) {
          if (!logic.isOver(before.now, before.seen) && before.samples.length > 0) tell(logic.endWords(now));
        } else if (now.state === 'running' && Date.now() - saidAt > SAY_MS) {
          saidAt = Date.now();
          tell(`${logic.progressWords(now.counts)}.`);
        }
        return over;
      },
      lost: (lost) => { if (isOpen(id) && imports().open?.lost !== lost) changeOpen({lost}); },
      isGone: () => call('GET', `/api/imports/${id}`).then(() => false, (error) => {
        const gone = error instanceof Refusal && error.status >= 400 && error.status < 500;
        if (gone && isOpen(id)) say(error.message, true);
        return gone;
      }),
    });
  }
  // Whoever looks at something else is told nothing.
  window.addEventListener('hashchange', () => { if (!/^#\/imports\/\d/.test(location.hash)) unwatch(); });
  // What was not sent would have to be dropped again: the browser asks first.
  window.addEventListener('beforeunload', (event) => { if (imports().sending.length > 0) event.preventDefault(); });

  /** Pairs that are fetched, by the newer layout: the next one while the person looks at this one. @type {Map<number, Promise<Pair>>} */
  const pairs = new Map();
  /** @param {import('./import-logic.js').Item} item */
  function pairOf({layout, like, file}) {
    const [id, other] = [Number(layout), Number(like)];
    const pair = pairs.get(id) ?? Promise.all([sideOf(id), sideOf(other)]).then(([now, earlier]) => ({layout: id, like: other, file, now, earlier}));
    pairs.set(id, pair);
    pair.catch(() => pairs.delete(id));
    return pair;
  }

  async function nextPair() {
    const [next, after] = groups()?.alike ?? [];
    const {open} = imports();
    if (!open || open.pair?.layout === next?.layout) return;
    if (!next) return changeOpen({pair: null});
    const pair = await pairOf(next).catch(() => null);
    if (after) void pairOf(after).catch(() => null);
    if (pair && isOpen(open.now.id) && groups()?.alike[0]?.layout === pair.layout) changeOpen({pair});
  }

  /** Asks the service to change the open import. @param {object} json */
  const patch = (json) => attempt('saving', async () => {
    const id = imports().open?.now.id;
    if (id === undefined) return;
    const {body} = await call('PATCH', `/api/imports/${id}`, {json});
    if (isOpen(id)) changeOpen({now: body});
  });

  /** @type {Record<string, (detail: any) => unknown>} */
  const verbs = {
    'take-many-now': takeIn,
    'leave-drop': () => {
      change({drop: null});
      go('#/');
    },
    'send-import': ({rule}) => send(rule),
    'stop-sending': ({sending}) => {
      sending.stop();
      change({sending: imports().sending.filter(({stop}) => stop !== sending.stop)});
      say('Sending is stopped. What was sent is read; close the import if nothing more is to come.');
    },
    'pause-import': async () => {
      await patch({state: 'paused'});
      focusOn('import-resume');
    },
    'resume-import': async () => {
      await patch({state: 'running'});
      focusOn('import-pause');
      const id = imports().open?.now.id;
      if (id !== undefined) watch(id);
    },
    'give-up-import': async () => {
      const {open, sending} = imports();
      for (const one of sending) if (one.id === open?.now.id) one.stop();
      await patch({state: 'canceled'});
      focusOn('import-heading');
    },
    'close-import': ({id}) => attempt('saving', async () => {
      const {body} = await call('PATCH', `/api/imports/${id}`, {json: {open: false}});
      if (isOpen(id)) {
        changeOpen({now: body});
        focusOn('import-heading');
      } else {
        change({list: imports().list.map((one) => (one.id === id ? body : one))});
        focusOn(`import-${id}`);
      }
    }),
    'say-card': ({card}) => attempt('saving', async () => {
      const {open} = imports();
      if (!open) return;
      const count = groups()?.card.length ?? 0;
      const {body} = await call('PATCH', `/api/imports/${open.now.id}`, {json: {card}});
      const seen = imports().open?.seen ?? open.seen;
      changeOpen({now: body, seen: logic.withoutWaiting(seen), samples: []});
      watch(open.now.id);
      say(`${logic.many(count, 'picture')} will be read for ${card}.`);
      focusOn('import-heading');
    }),
    'settle-alike': ({same}) => attempt('saving', async () => {
      const {open} = imports();
      if (!open?.pair) return;
      const {layout, now} = open.pair;
      const {body} = await call('PUT', `/api/imports/${open.now.id}/alike/${layout}`, {json: {same}});
      const seen = logic.withVerdict(imports().open?.seen ?? open.seen, layout, same ? 'same' : 'different');
      changeOpen({now: body, seen, merged: same ? {layout, title: now.title} : null});
      tell(same ? 'The earlier one is kept.' : 'Both are kept.');
      await nextPair();
      // The next question is answered with the same keys.
      focusOn(imports().open?.pair ? 'alike-same' : same ? 'undo-alike' : 'import-heading');
    }),
    'undo-alike': () => attempt('saving', async () => {
      const {open} = imports();
      if (!open?.merged) return;
      const {layout, title} = open.merged;
      await bringBack(String(layout));
      note({back: new Set([...open.notes.back, layout])});
      changeOpen({merged: null});
      say(`“${title}” is back: both are kept.`);
      focusOn('import-heading');
    }),
    'look-at-layout': ({layout, tile}) => {
      const {open} = imports();
      if (!open) return;
      changeOpen({left: tile});
      if (!open.notes.looked.has(layout)) note({looked: new Set([...open.notes.looked, layout])});
    },
    'show-import-corners': ({item}) => attempt('opening', async () => {
      const {open} = imports();
      if (!open) return;
      if (get().work?.drafts.some(work.isOpen)) {
        say('A layout is waiting to be saved. Go on with it among your layouts, or discard it, then show the corners.', true);
        return;
      }
      const photo = await photoSize(item.photo);
      if (!photo) {
        say('This picture cannot be shown.', true);
        return;
      }
      changeOpen({left: `corners-${item.key}`});
      set({work: work.startCorners(work.startTrouble(photo, open.now.card ?? get().card, sentenceOf({detail: item.reason}, 0))), deleted: null});
      go('#/work');
    }),
  };

  /** What was changed in the editor, or made there, since a tile was left for it. */
  async function catchUp() {
    const {open} = imports();
    const left = open?.left;
    if (!open || !left) return;
    const layout = Number(/^import-layout-(\d+)$/.exec(left)?.[1]);
    if (layout) {
      const version = await openLayout(String(layout)).then((stored) => stored.version, () => null);
      if (version !== null && isOpen(open.now.id)) changeOpen({versions: new Map([...open.versions, [layout, version]])});
      return;
    }
    const {none} = logic.sortOut(open.seen);
    const photo = none.find(({key}) => left === `corners-${key}`)?.photo;
    if (!photo) return;
    const {layouts} = await findLayouts(new URLSearchParams(), NEWEST, null).catch(() => ({layouts: []}));
    const made = layouts.find(({record}) => record.capture?.photo === photo);
    if (made) note({byHand: {...open.notes.byHand, [photo]: Number(made.id)}});
  }

  /** @param {string} rest what follows `#/imports/` */
  async function arrive(rest) {
    if (rest === 'new' && imports().drop) {
      change({open: null});
      return 'import-new-heading';
    }
    if (/^\d+$/.test(rest)) {
      const id = Number(rest);
      try {
        const {body} = await call('GET', `/api/imports/${id}`);
        const before = isOpen(id) ? imports().open : null;
        // Either of two may have been changed since it was looked at.
        pairs.clear();
        change({open: before ? {...before, now: body, samples: [], pair: null} : {
          now: body, seen: logic.nothingSeen(), samples: [], lost: false, notes: notesOf(id), versions: new Map(), pair: null, merged: null, left: null,
        }});
        watch(id);
        void catchUp();
        return before?.left ?? 'import-heading';
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        say(error.message, true);
      }
    }
    change({open: null});
    await list();
    return 'imports-heading';
  }
  return {arrive, verbs};
}

/** @param {number} id @returns {Promise<Side>} */
async function sideOf(id) {
  try {
    const {record, version} = await openLayout(String(id));
    const photo = record.capture?.photo ? await photoSize(record.capture.photo).catch(() => null) : null;
    return {
      id, gone: false, version, title: work.titleOf(record), words: `${work.cardText(record)} · ${work.counted(record.elements.length, 'element')}`,
      photo, corners: record.capture?.card_corners_px ?? [],
    };
  } catch (error) {
    if (!(error instanceof Refusal) || error.status !== 404) throw error;
    return {id, gone: true, version: 1, title: `Layout ${id}`, words: 'It is not in the notebook any more.', photo: null, corners: []};
  }
}

/** @param {File} file @param {string} name @returns {Dropped} */
const dropOf = (file, name) => ({file, name, size: file.size, type: file.type});

/**
 * Every file in what was dropped, folders with all that is in them.
 * @param {(FileSystemEntry | null)[]} entries
 * @returns {Promise<Dropped[]>}
 */
async function filesIn(entries) {
  /** @type {Dropped[]} */
  const found = [];
  for (const entry of entries) {
    if (entry?.isFile) {
      const file = await new Promise((resolve) => /** @type {FileSystemFileEntry} */ (entry).file(resolve, () => resolve(null)));
      if (file) found.push(dropOf(file, entry.fullPath.replace(/^\//, '')));
    } else if (entry?.isDirectory) {
      const reader = /** @type {FileSystemDirectoryEntry} */ (entry).createReader();
      for (;;) {
        // Given a hundred at a time, until there are none.
        const some = /** @type {FileSystemEntry[]} */ (await new Promise((resolve) => reader.readEntries(resolve, () => resolve([]))));
        if (some.length === 0) break;
        found.push(...await filesIn(some));
      }
    }
  }
  return found;
}

/** Rests, but no longer than until the network is back or all is over. @param {number} ms @param {AbortSignal} signal @returns {Promise<void>} */
function restUntil(ms, signal) {
  return new Promise((resolve) => {
    const wake = () => {
      clearTimeout(timer);
      window.removeEventListener('online', wake);
      signal.removeEventListener('abort', wake);
      resolve();
    };
    const timer = setTimeout(wake, ms);
    window.addEventListener('online', wake);
    signal.addEventListener('abort', wake);
  });
}

/** @param {number} id @returns {Notes} */
function notesOf(id) {
  const notes = kept(NOTES_PLACE + id) ?? {};
  return {looked: new Set(notes.looked ?? []), back: new Set(notes.back ?? []), byHand: notes.byHand ?? {}};
}

/** @param {string} place @returns {any} null where there is nothing, or the browser keeps nothing */
function kept(place) {
  try {
    return JSON.parse(localStorage.getItem(place) ?? 'null');
  } catch {
    return null;
  }
}

/** @param {string} place @param {unknown} value */
function keep(place, value) {
  try {
    localStorage.setItem(place, JSON.stringify(value));
  } catch {
    // A browser that keeps nothing asks again next time.
  }
}
