// Carries out what the parts ask for: the state, the service, the address, and
// where the keyboard goes next. Parts ask with verb events that bubble up here.

import * as client from './client.js';
import * as logic from './logic.js';
import {emptyNotebook, notebookActions} from './notebook-actions.js';

/** @typedef {import('./client.js').Stored} Stored */
/** @typedef {import('./client.js').Card} Card */
/** @typedef {import('./logic.js').Work} Work */
/**
 * @typedef {object} PageState
 * @property {'home' | 'work'} view
 * @property {Card[]} cards
 * @property {string} card the card a photo is read for
 * @property {string} frame `outline` or `photo`
 * @property {'reading' | 'saving' | 'opening' | null} busy
 * @property {ImageBitmap | null} preview the photo that is being read
 * @property {Work | null} work
 * @property {import('./notebook-logic.js').Shelved[]} list
 * @property {number} total
 * @property {boolean} listed whether the notebook has been fetched
 * @property {{text: string, bad: boolean}} message what was done, or why not
 * @property {Stored | null} deleted what undo would bring back
 * @property {boolean} conflict whether the last save was refused as stale
 */
/** @typedef {PageState & import('./notebook-actions.js').NotebookState} State */
/** @typedef {(state: State) => void} Update */
/** @typedef {{update: Update}} Part */

/** Where unsaved work waits out a reload of the page. */
const SHELF = 'eighths.work';

/**
 * @param {HTMLElement} root where the verbs arrive
 * @param {Update} update
 */
export function startActions(root, update) {
  /** @type {State} */
  let state = {
    view: 'home', cards: [], card: 'A2', frame: 'outline', busy: null, preview: null, work: offShelf(),
    list: [], total: 0, listed: false, message: {text: '', bad: false}, deleted: null, conflict: false,
    ...emptyNotebook(),
  };

  /** @param {Partial<State>} change */
  function set(change) {
    state = {...state, ...change};
    if ('work' in change) onShelf(state.work);
    update(state);
  }

  /**
   * @param {string} text
   * @param {boolean} [bad]
   */
  function say(text, bad = false) {
    set({message: {text, bad}});
    const announcer = document.getElementById('announcer');
    if (announcer) announcer.textContent = text;
  }

  /** @param {(work: Work) => Work} change */
  function work(change) {
    if (state.work) set({work: change(state.work)});
  }

  /**
   * Runs something that asks the service; a refusal is said, not thrown.
   * @param {NonNullable<State['busy']>} busy
   * @param {() => Promise<void>} run
   * @param {(refusal: client.Refusal) => boolean} [handled]
   */
  async function attempt(busy, run, handled = () => false) {
    if (state.busy) return;
    set({busy, message: {text: '', bad: false}});
    try {
      await run();
    } catch (error) {
      if (!(error instanceof client.Refusal)) throw error;
      if (!handled(error)) say(error.message, true);
    } finally {
      set({busy: null, preview: null});
    }
  }

  /** What the keyboard goes to on arrival, if not the heading. @type {string | null} */
  let nextFocus = null;

  /**
   * @param {string} hash
   * @param {string | null} [focus] id of the element the keyboard goes to
   */
  function go(hash, focus = null) {
    nextFocus = focus;
    if (location.hash === hash) void arrive();
    else location.hash = hash;
  }

  /** @param {boolean} [first] whether the page has just loaded: the browser places the keyboard then */
  async function arrive(first = false) {
    const id = /^#\/layouts\/(.+)$/.exec(location.hash)?.[1];
    if (id) {
      const open = logic.draftOf(state.work);
      if (open?.id === decodeURIComponent(id)) set({view: 'work'});
      else await openLayout(decodeURIComponent(id));
    } else if (location.hash === '#/work' && state.work) {
      set({view: 'work'});
    } else {
      // What went wrong with a photo is of no use once the person has turned away from it.
      set({view: 'home', message: state.message.bad ? {text: '', bad: false} : state.message});
      await refresh();
    }
    if (!first || nextFocus) focusOn(nextFocus ?? (state.view === 'work' ? 'work-heading' : 'home-heading'));
    nextFocus = null;
  }

  /** @param {string} id */
  async function openLayout(id) {
    if (state.work?.drafts.some(logic.isChanged)) {
      await waitingFirst();
      return;
    }
    await attempt('opening', async () => {
      const stored = await client.openLayout(id);
      const photo = await photoOf(stored.record.capture?.photo);
      set({work: logic.openSaved(stored, photo), view: 'work', deleted: null});
    }, (refusal) => {
      set({view: 'home'});
      say(refusal.message, true);
      void refresh();
      return true;
    });
  }

  /** Something unsaved lies on the table; it is not swept off it unasked. */
  async function waitingFirst() {
    set({view: 'home'});
    await refresh();
    say('A layout is waiting to be saved. Go on with it or discard it first.', true);
    nextFocus = 'continue-work';
  }

  const notebook = notebookActions({get: () => state, set, say, attempt, focusOn});
  const refresh = notebook.refresh;

  /** @param {File} file */
  async function readPhoto(file) {
    const {card, frame} = state;
    if (logic.isEdited(state.work)) {
      say('Your changes are not saved yet. Save or discard them, then bring the next photo.', true);
      return;
    }
    await attempt('reading', async () => {
      const preview = await createImageBitmap(file).catch(() => null);
      if (preview) set({preview});
      const {photo, layouts} = await client.readPhoto(file, card, frame);
      set({work: logic.startWork(photo, layouts, card), deleted: null});
      say(`${logic.counted(layouts.length, 'layout')} found. Check the sizes, then save.`);
      go('#/work');
    }, troubled(card));
  }

  /**
   * A photo that could not be read is kept: the person can show where the card is.
   * @param {string} card
   */
  function troubled(card) {
    return (/** @type {client.Refusal} */ refusal) => {
      const photo = /** @type {logic.Photo | undefined} */ (refusal.body.photo);
      if (!photo || refusal.status !== 422) return false;
      const same = state.work?.photo?.id === photo.id ? state.work : null;
      if (logic.draftOf(same)) return false;
      set({work: same ? logic.stillTrouble(same, refusal.message) : logic.startTrouble(photo, card, refusal.message)});
      say(refusal.message, true);
      go('#/work');
      return true;
    };
  }

  /** @param {client.ReadOptions} options */
  async function readAgain(options) {
    const before = state.work;
    const photo = before?.photo;
    if (!before || !photo) return;
    const card = options.card ?? before.card;
    await attempt('reading', async () => {
      const {layouts} = await client.readPhotoAgain(photo.id, {card, ...options});
      const single = layouts.length === 1 && (options.corners || before.drafts.length === 1);
      set({work: single ? {...logic.readAgain(before, layouts[0]), card} : logic.startWork(photo, layouts, card)});
      say(`Read again: ${logic.counted(layouts.length, 'layout')}. Undo brings the earlier reading back.`);
      focusOn('work-heading');
    }, troubled(card));
  }

  async function save() {
    const start = state.work;
    if (!start) return;
    const wrong = document.querySelector('#work [aria-invalid="true"]');
    if (wrong instanceof HTMLElement) {
      say('One size is not right yet. Correct it, or press Escape in its field, then save.', true);
      wrong.focus();
      return;
    }
    const single = start.drafts.length === 1;
    const isNew = start.drafts.some((draft) => draft.id === null);
    let count = 0;
    await attempt('saving', async () => {
      for (const {draft, at} of logic.toSave(start)) {
        const stored = await client.saveLayout(draft.record, draft.id, draft.etag);
        work((now) => logic.markSaved(now, at, stored, draft.record));
        count += 1;
      }
      if (isNew) {
        const last = logic.draftOf(state.work)?.id ?? state.work?.drafts.find((draft) => draft.id)?.id ?? null;
        set({work: null});
        go('#/', `layout-${last}`);
      }
      say(single ? 'Saved.' : `Saved ${logic.counted(count, 'layout')}.`);
    }, (refusal) => {
      if (refusal.status !== 412) return false;
      set({conflict: true});
      return true;
    });
  }

  async function deleteLayout() {
    const draft = logic.draftOf(state.work);
    if (!draft?.id) return;
    const {id, etag, saved, record} = draft;
    await attempt('saving', async () => {
      await client.deleteLayout(id, etag);
      set({work: null, deleted: {id, etag, record: saved ?? record}});
      go('#/', 'undo-delete');
      say(`Deleted “${logic.titleOf(record)}”. Undo brings it back.`);
    }, (refusal) => {
      if (refusal.status !== 412) return false;
      set({conflict: true});
      return true;
    });
  }

  /** @type {Record<string, (detail: any) => unknown>} */
  const verbs = {
    'read-photo': ({file}) => readPhoto(file),
    'choose-card': ({card}) => set({card}),
    'choose-frame': ({frame}) => set({frame}),
    'read-again': readAgain,
    'pick-element': ({id}) => work((now) => (now.picked === id ? now : logic.pickElement(now, id))),
    'correct-element': ({id, field, value}) => work((now) => logic.correct(now, id, field, value)),
    'keep-element': ({id}) => work((now) => logic.keepElement(now, id)),
    'delete-element': ({id}) => {
      work((now) => logic.deleteElement(now, id));
      say('Element deleted. Undo brings it back.');
    },
    'describe-layout': (words) => work((now) => logic.describe(now, words)),
    'choose-candidate': ({at}) => work((now) => logic.chooseCandidate(now, at)),
    'keep-candidate': ({at, kept}) => work((now) => logic.keepCandidate(now, at, kept)),
    'start-corners': () => work(logic.startCorners),
    'stop-corners': () => work(logic.stopCorners),
    'choose-corner': ({corner}) => work((now) => logic.chooseCorner(now, corner)),
    'move-corner': ({corner, to}) => work((now) => logic.moveCorner(now, corner, to)),
    'undo-edit': () => work(logic.undo),
    'redo-edit': () => work(logic.redo),
    'save-layouts': save,
    'delete-layout': deleteLayout,
    'undo-delete': () => attempt('saving', async () => {
      if (!state.deleted) return;
      const stored = await client.bringBack(state.deleted.id);
      set({deleted: null});
      await refresh();
      say(`“${logic.titleOf(stored.record)}” is back.`);
      focusOn(`layout-${stored.id}`);
    }),
    'dismiss-undo': () => {
      set({deleted: null});
      focusOn('home-heading');
    },
    'discard-work': () => {
      set({work: null});
      say('Discarded.');
      go('#/');
    },
    'take-theirs': () => attempt('opening', async () => {
      const id = logic.draftOf(state.work)?.id;
      if (!id) return;
      const stored = await client.openLayout(id);
      work((now) => logic.takeTheirs(now, stored));
      set({conflict: false});
      say('This is the saved layout. Undo shows yours again.');
    }),
    'save-copy': () => attempt('saving', async () => {
      const draft = logic.draftOf(state.work);
      if (!draft) return;
      const stored = await client.saveLayout(logic.copyOf(draft.record), null, null);
      set({conflict: false, work: logic.openSaved(stored, state.work?.photo ?? null)});
      go(`#/layouts/${encodeURIComponent(stored.id)}`);
      say('Saved yours as a copy. The other version is kept too.');
    }),
    'close-conflict': () => set({conflict: false}),
    ...notebook.verbs,
  };
  for (const [verb, act] of Object.entries(verbs)) {
    root.addEventListener(verb, (event) => void act(/** @type {CustomEvent} */ (event).detail));
  }

  window.addEventListener('hashchange', () => void arrive());
  document.addEventListener('keydown', (event) => {
    const typing = event.target instanceof HTMLInputElement || event.target instanceof HTMLTextAreaElement;
    if (typing || !(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== 'z') return;
    event.preventDefault();
    work(event.shiftKey ? logic.redo : logic.undo);
  });

  update(state);
  client.listCards().then((cards) => set({cards}), (refusal) => say(refusal.message, true));
  void arrive(true);
}

/**
 * The size of a saved layout's photo; null when there is none to show.
 * @param {string | undefined} id
 * @returns {Promise<logic.Photo | null>}
 */
async function photoOf(id) {
  if (!id) return null;
  const picture = new Image();
  picture.src = client.photoUrl(id, client.WIDEST_PX);
  const shown = await picture.decode().then(() => true, () => false);
  if (!shown) return null;
  // A picture below the widest is the photo at its own size.
  if (picture.naturalWidth < client.WIDEST_PX) return {id, width: picture.naturalWidth, height: picture.naturalHeight};
  return client.photoSize(id);
}

/** @param {string} id */
function focusOn(id) {
  // After the parts have drawn what is to be focused.
  requestAnimationFrame(() => document.getElementById(id)?.focus());
}

/** @param {Work | null} work */
function onShelf(work) {
  try {
    if (!work || !work.drafts.some(logic.isChanged)) sessionStorage.removeItem(SHELF);
    else {
      const drafts = work.drafts.map((draft) => ({...draft, past: draft.past.slice(-1), future: []}));
      sessionStorage.setItem(SHELF, JSON.stringify({...work, drafts}));
    }
  } catch {
    // A browser that keeps nothing still works; only a reload forgets.
  }
}

/** @returns {Work | null} */
function offShelf() {
  try {
    return JSON.parse(sessionStorage.getItem(SHELF) ?? 'null');
  } catch {
    return null;
  }
}
