// Carries out what the parts ask for: the state, the service, the address, and
// where the keyboard goes next. Parts ask with verb events that bubble up here.

import {duplicate, move} from './arrange.js';
import * as client from './client.js';
import {followedBy, followedWords} from './decisions.js';
import {fetchModule} from './fetched.js';
import {showLength} from './lengths.js';
import * as logic from './logic.js';
import * as outbox from './outbox.js';
import {emptyNotebook, notebookActions} from './notebook-actions.js';
import {openShelf} from './shelf.js';

/** @typedef {import('./client.js').Stored} Stored */
/** @typedef {import('./client.js').Card} Card */
/** @typedef {import('./logic.js').Work} Work */
/** @typedef {'home' | 'work' | 'papers' | 'batches' | 'imports' | 'phone'} View */
/** @typedef {import('./notebook-actions.js').Tools & {go: (hash: string, focus?: string | null) => void, tell: (text: string) => void}} ScreenTools What screens are lent. */
/** @typedef {{arrive: (rest: string) => Promise<string>, verbs: Record<string, (detail: any) => unknown>}} Screen `arrive` tells what the keyboard goes to */
/**
 * @typedef {object} PageState
 * @property {View} view
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
 * @property {Omit<Stored, 'version'> | null} deleted what undo would bring back
 * @property {Stored | null} conflict what was saved elsewhere, once a save was refused as stale
 * @property {boolean} distances whether the drawing shows distances
 * @property {boolean} several whether touching a shape adds it to what is chosen
 * @property {boolean} recard whether the layout is being copied to another card
 * @property {outbox.Waiting[]} outbox saves that wait for the service
 * @property {Queued[]} queue photos that are opened one after another
 * @property {import('./drawer-actions.js').Drawer | null} drawer the papers, once they were opened
 * @property {import('./batch-actions.js').Batches | null} batches
 * @property {import('./import-actions.js').Imports | null} imports
 * @property {string | null} back the address of the import that the open layout was reached from
 * @property {import('./phone-actions.js').Phone | null} phone how devices of the network come in
 * @property {import('./batch-actions.js').Making | null} making what it takes to make the open layout
 */
/**
 * @typedef {object} Queued
 * @property {string} name
 * @property {File} file
 * @property {string} card
 * @property {string} frame
 */
/** @typedef {PageState & import('./notebook-actions.js').NotebookState} State */
/** @typedef {(state: State) => void} Update */
/** @typedef {{update: Update}} Part */

/** Whether a service that was away is back is asked this often, in ms. */
const ASK_AGAIN_MS = 3_000;
/** The keyboard goes to a part that is being fetched within so many frames: a second. */
const MOST_FRAMES = 60;
/** Modules with the actions of screens that most visits do not open. @type {Record<string, string>} */
const SCREENS = {papers: 'drawer-actions.js', batches: 'batch-actions.js', imports: 'import-actions.js', phone: 'phone-actions.js'};

/**
 * @param {HTMLElement} root where the verbs arrive
 * @param {Update} update
 */
export function startActions(root, update) {
  const shelf = openShelf((work) => work.drafts.some(logic.isChanged));
  // What another window has sent meanwhile is done with.
  const left = shelf.work?.drafts.some((draft) => logic.isOpen(draft) || outbox.waiting().some(({key}) => key === draft.waits?.key)) ? shelf.work : null;
  /** @type {State} */
  let state = {
    view: 'home', cards: [], card: 'A2', frame: 'outline', busy: null, preview: null, work: left,
    list: [], total: 0, listed: false, message: {text: '', bad: false}, deleted: null, conflict: null,
    distances: false, several: false, recard: false, outbox: outbox.waiting(), queue: [],
    drawer: null, batches: null, imports: null, back: null, phone: null, making: null,
    ...emptyNotebook(),
  };

  /** @param {Partial<State>} change */
  function set(change) {
    state = {...state, ...change};
    if ('work' in change) shelf.keep(state.work);
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

  /**
   * Works out again what was read together with a size that is decided now.
   * Without the service the size is corrected alone.
   */
  async function settleRest() {
    const asked = logic.toSettle(state.work);
    if (!asked) return;
    try {
      const again = await client.settleAgain(asked);
      const before = logic.draftOf(state.work)?.record;
      if (before !== asked.record) return;
      work((now) => logic.settleWith(now, asked, again));
      const words = followedWords(again, followedBy(before, again).followed);
      if (words) say(words);
    } catch (error) {
      if (!(error instanceof client.Refusal)) throw error;
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

  /** @type {Map<string, Screen>} */
  const screens = new Map();
  /** @param {string} name @returns {Promise<Screen | null>} null where it cannot be fetched */
  async function screenOf(name) {
    /** @type {{actions: (tools: ScreenTools) => Screen} | null | undefined} */
    const module = screens.has(name) ? null : await fetchModule(SCREENS[name]).catch(() => undefined);
    if (module === undefined) verbs['part-missing']({});
    else if (module && !screens.has(name)) {
      const screen = module.actions({get: () => state, set, say, attempt, focusOn, go, tell});
      screens.set(name, screen);
      listen(screen.verbs);
    }
    return screens.get(name) ?? null;
  }

  /** Asks a screen for something, which may have to be fetched first. @param {string} screen @param {string} verb */
  const asked = (screen, verb) => async (/** @type {unknown} */ detail) => (await screenOf(screen))?.verbs[`${verb}-now`](detail);

  /** @param {boolean} [first] whether the page has just loaded: the browser places the keyboard then */
  async function arrive(first = false) {
    const [, view, rest = ''] = /^#\/(papers|batches|imports|phone)(?:\/(.*))?$/.exec(location.hash) ?? [];
    if (view) {
      // What was said stays where it leads to, and is of no use elsewhere.
      set({view: /** @type {View} */ (view), back: view === 'imports' && /^\d/.test(rest) ? location.hash : null, message: nextFocus && !state.message.bad ? state.message : {text: '', bad: false}});
      const heading = await (await screenOf(view))?.arrive(rest);
      if (heading && (!first || nextFocus)) focusOn(nextFocus ?? heading);
      nextFocus = null;
      return;
    }
    const id = /^#\/layouts\/(.+)$/.exec(location.hash)?.[1];
    if (id) {
      const open = logic.draftOf(state.work);
      if (open?.id === decodeURIComponent(id)) {
        set({view: 'work'});
        if (state.outbox.some((save) => save.stale && save.id === open.id)) showTheirs(open.id);
      }
      else await openLayout(decodeURIComponent(id));
    } else if (location.hash === '#/work' && state.work) {
      set({view: 'work'});
    } else {
      // What went wrong with a photo is of no use once the person has turned away from it.
      set({view: 'home', back: null, message: state.message.bad ? {text: '', bad: false} : state.message});
      await refresh();
    }
    if (!first || nextFocus) focusOn(nextFocus ?? (state.view === 'work' ? 'work-heading' : 'home-heading'));
    nextFocus = null;
  }

  /** @param {string} id */
  async function openLayout(id) {
    if (state.work?.drafts.some(logic.isOpen)) {
      await waitingFirst();
      return;
    }
    await attempt('opening', async () => {
      const stored = await client.openLayout(id);
      const photo = await photoOf(stored.record.capture?.photo);
      const opened = logic.openSaved(stored, photo);
      const waits = state.outbox.find((save) => save.id === id);
      if (!waits) {
        set({work: opened, view: 'work', deleted: null});
        return;
      }
      // What waits in the browser is the person's own latest: it is what they go on with.
      const draft = {...opened.drafts[0], record: waits.record, saved: waits.base, etag: waits.etag, waits: {key: waits.key, record: waits.record}};
      set({work: {...opened, drafts: [draft]}, view: 'work', deleted: null, conflict: waits.stale ? stored : null});
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

  /**
   * Takes photos in. The first is read at once if the table is free; the others
   * are opened one after another, as each is saved or discarded.
   * @param {File[]} files
   */
  async function takePhotos(files) {
    const {card, frame} = state;
    const added = files.map((file) => ({name: file.name, file, card, frame}));
    set({queue: [...state.queue, ...added]});
    const occupied = state.busy === 'reading' || logic.isEdited(state.work) || (state.view === 'work' && logic.draftOf(state.work));
    if (occupied) say(`${logic.counted(added.length, 'photo')} will be opened after this one is saved or discarded.`);
    else await nextPhoto();
  }

  /** Reads the next photo that waits, if there is one. A file that is no picture does not stop the others. */
  async function nextPhoto() {
    if (state.busy) return;
    /** @type {string[]} */
    const refused = [];
    while (state.queue.length > 0) {
      const [next, ...queue] = state.queue;
      set({queue});
      const fault = await readPhoto(next);
      if (fault === null) break;
      refused.push(state.queue.length > 0 || refused.length > 0 ? `${next.name}: ${fault}` : fault);
    }
    if (refused.length > 0) say(refused.join(' '), true);
  }

  /**
   * @param {Queued} queued
   * @returns {Promise<string | null>} why there is nothing to look at
   */
  async function readPhoto({file, card, frame}) {
    /** @type {string | null} */
    let fault = null;
    const trouble = troubled(card);
    await attempt('reading', async () => {
      const preview = await createImageBitmap(file).catch(() => null);
      if (preview) set({preview});
      const {photo, layouts} = await client.readPhoto(file, card, frame);
      set({work: logic.startWork(photo, layouts, card), deleted: null});
      say(`${logic.counted(layouts.length, 'layout')} found. Check the sizes, then save.`);
      go('#/work');
    }, (refusal) => {
      // A photo that did not arrive waits for the service.
      if (refusal.status === 0) set({queue: [{name: file.name, file, card, frame}, ...state.queue]});
      if (refusal.status === 0 || trouble(refusal)) return refusal.status !== 0;
      fault = refusal.message;
      return true;
    });
    return fault;
  }

  /** After a photo was saved or discarded: the next one, or the notebook. @param {string | null} [focus] */
  function goOn(focus = null) {
    const left = state.imports?.open?.left ?? 'import-heading';
    go(state.back ?? '#/', state.back ? left : focus);
    if (state.queue.length > 0) setTimeout(() => void nextPhoto());
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
      if (logic.draftOf(before)?.id != null && logic.draftOf(before)?.read === null) {
        // How it was read at first tells what the person has changed since.
        const first = await client.readPhotoAgain(photo.id, {card: before.card}).catch(() => null);
        if (first) work((now) => logic.knownReading(now, first.layouts));
      }
      const {layouts} = await client.readPhotoAgain(photo.id, {card, ...options});
      const single = layouts.length === 1 && (options.corners || before.drafts.length === 1);
      work((now) => ({...(single ? logic.readAgain(now, layouts[0]) : logic.readAllAgain(now, layouts)), card}));
      say(`Read again: ${logic.counted(layouts.length, 'layout')}. What you had put right is kept. Undo brings the earlier reading back.`);
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
    let away = 0;
    let anew = false;
    await attempt('saving', async () => {
      for (const {draft, at} of logic.toSave(start)) {
        try {
          const stored = await client.saveLayout(draft.record, draft.id, draft.etag).catch((error) => {
            if (!(error instanceof client.Refusal) || error.status !== 404 || draft.id === null) throw error;
            // Deleted elsewhere: what the person made of it becomes a layout of its own.
            anew = true;
            return client.saveLayout(draft.record, null, null);
          });
          if (draft.waits) outbox.take(draft.waits.key);
          work((now) => logic.markSaved(now, at, stored, draft.record));
          count += 1;
        } catch (error) {
          if (!(error instanceof client.Refusal)) throw error;
          // A draft that is looked at is the one the choice between two versions is about.
          if (error.status === 412) work((now) => logic.chooseCandidate(now, at));
          if (error.status !== 0) throw error;
          const key = draft.waits?.key ?? outbox.keyFor(draft.id);
          if (!outbox.put({key, id: draft.id, etag: draft.etag, base: draft.saved, record: draft.record})) throw error;
          work((now) => logic.markWaiting(now, at, key));
          away += 1;
        }
      }
      set({outbox: outbox.waiting()});
      if (away > 0) {
        askAgain();
        say('The service is away. Your changes wait in this browser and are saved when it is back.', true);
        return;
      }
      if (isNew) {
        const last = logic.draftOf(state.work)?.id ?? state.work?.drafts.find((draft) => draft.id)?.id ?? null;
        set({work: null});
        goOn(`layout-${last}`);
      }
      const id = logic.draftOf(state.work)?.id;
      if (anew && id) go(`#/layouts/${encodeURIComponent(id)}`);
      say(anew ? 'It was deleted somewhere else, so yours is saved as a new layout.' : single ? 'Saved.' : `Saved ${logic.counted(count, 'layout')}.`);
    }, stale);
  }

  /** A save that came second: what was saved in between is shown beside. @param {client.Refusal} refusal */
  function stale(refusal) {
    const id = logic.draftOf(state.work)?.id;
    if (refusal.status !== 412 || !id) return false;
    showTheirs(id);
    return true;
  }

  /** @param {string} id */
  function showTheirs(id) {
    client.openLayout(id).then((stored) => set({conflict: stored}), (error) => say(error.message, true));
  }

  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let asking;
  /** Asks in a while whether the service is back, as long as something waits for it. */
  function askAgain() {
    clearTimeout(asking);
    asking = setTimeout(() => void sendWaiting(), ASK_AGAIN_MS);
  }

  /** Sends what waits in the browser, oldest first. */
  async function sendWaiting() {
    clearTimeout(asking);
    let sent = 0;
    let away = false;
    await outbox.alone(async () => {
      for (const save of outbox.waiting().filter((one) => !one.stale && !one.fault)) {
        try {
          const stored = await client.saveLayout(save.record, save.id, save.etag);
          outbox.take(save.key);
          sent += 1;
          const at = state.work?.drafts.findIndex((draft) => draft.waits?.key === save.key) ?? -1;
          if (at >= 0) work((now) => logic.markSaved(now, at, stored, save.record));
        } catch (error) {
          if (!(error instanceof client.Refusal)) throw error;
          if (error.status === 0) {
            away = true;
            break;
          }
          // Deleted elsewhere: what the person made is saved as a new layout.
          if (error.status === 404 && save.id !== null) outbox.put({...save, id: null, etag: null, base: null});
          else outbox.put(error.status === 412 ? {...save, stale: true} : {...save, fault: error.message});
        }
      }
    });
    set({outbox: outbox.waiting()});
    if (away || state.outbox.some((save) => !save.stale && !save.fault)) askAgain();
    if (sent === 0) return;
    say(`The service is back: ${logic.counted(sent, 'layout')} saved.`);
    const done = state.work?.drafts.every((draft) => draft.id !== null && !logic.isChanged(draft)) ?? false;
    if (done && location.hash === '#/work') {
      set({work: null});
      goOn();
    } else if (state.view === 'home') await refresh();
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
    }, stale);
  }

  /** Moves what is chosen, and says where it is then. @param {logic.Point} by */
  function moveChosen([dx, dy]) {
    const ids = state.work?.chosen ?? [];
    work((now) => logic.editBy(now, (record) => move(record, ids, dx, dy)));
    const [first] = logic.chosenOf(state.work);
    const unit = logic.draftOf(state.work)?.record.unit ?? 'in';
    if (first) tell(`${showLength(first.x, unit)} from the left, ${showLength(first.y, unit)} from the top`);
  }

  /** Says something to those who listen, without taking the place of a message. @param {string} text */
  function tell(text) {
    const announcer = document.getElementById('announcer');
    if (announcer) announcer.textContent = text;
  }

  /** Another window may have sent what waited here. */
  async function sentElsewhere() {
    set({outbox: outbox.waiting()});
    const draft = logic.draftOf(state.work);
    if (!draft?.waits || !draft.id || state.outbox.some(({key}) => key === draft.waits?.key)) return;
    const sent = draft.waits.record;
    const stored = await client.openLayout(draft.id).catch(() => null);
    if (stored && logic.draftOf(state.work)?.id === draft.id) work((now) => logic.markSaved(now, now.at, stored, sent));
  }

  /** The choice between two versions is made. @param {string | undefined} key of the save that waited for it */
  function settle(key) {
    if (key) outbox.take(key);
    set({conflict: null, outbox: outbox.waiting()});
  }

  /** @type {Record<string, (detail: any) => unknown>} */
  const verbs = {
    'read-photos': ({files}) => takePhotos(files),
    'next-photo': nextPhoto,
    'forget-photos': () => set({queue: []}),
    'send-waiting': sendWaiting,
    'choose-card': ({card}) => set({card}),
    'choose-frame': ({frame}) => set({frame}),
    'read-again': readAgain,
    'pick-element': ({id, more}) => work((now) => logic.chooseElement(now, id, more || (state.several && id !== null))),
    'near-element': ({id}) => { if (state.work && state.work.near !== id) work((now) => logic.passOver(now, id)); },
    'choose-all': () => work((now) => ({...now, chosen: logic.draftOf(now)?.record.elements.map((element) => element.id) ?? []})),
    'toggle-several': () => set({several: !state.several}),
    'toggle-distances': () => set({distances: !state.distances}),
    'edit-layout': ({change, gesture, said}) => {
      work((now) => logic.editBy(now, change, gesture));
      if (said) tell(said);
    },
    'end-gesture': () => work(logic.endGesture),
    'cancel-gesture': () => work(logic.cancelGesture),
    'move-chosen': ({by}) => moveChosen(by),
    'add-shape': ({shape}) => work((now) => logic.addShape(now, shape)),
    'duplicate-chosen': () => {
      const record = logic.draftOf(state.work)?.record;
      if (!record || !state.work) return;
      const copy = duplicate(record, state.work.chosen, logic.freshId(state.work));
      work((now) => ({...logic.editBy(now, () => copy.record), chosen: copy.ids}));
      say(copy.ids.length === 1 ? 'Duplicated. The copy is chosen.' : 'Duplicated. The copies are chosen.');
    },
    'delete-chosen': () => {
      const count = logic.chosenOf(state.work).length;
      work((now) => logic.deleteElements(now, now.chosen));
      say(`${count === 1 ? 'Element' : `${count} elements`} deleted. Undo brings ${count === 1 ? 'it' : 'them'} back.`);
    },
    'start-adding': () => work((now) => logic.addingAt(now, [])),
    'add-corner': ({at}) => work((now) => logic.addingAt(now, [at])),
    'add-element': ({box}) => {
      work((now) => logic.addFromPhoto(now, box));
      say('Added. Set its shape and sizes if they are not right yet.');
    },
    tell: ({text}) => tell(text),
    'open-recard': () => set({recard: true}),
    'part-missing': () => {
      // A screen that cannot be shown is left, so that its link is there to be tried again.
      if (state.view !== 'work') history.replaceState(null, '', '#/');
      set({recard: false, conflict: null, view: state.view === 'work' ? 'work' : 'home'});
      say('The service does not answer. What you did is still here; try again in a moment.', true);
    },
    'close-recard': () => set({recard: false}),
    'save-new': ({record}) => attempt('saving', async () => {
      const stored = await client.saveLayout(record, null, null);
      set({recard: false});
      if (!state.work?.drafts.some(logic.isOpen)) {
        set({work: logic.openSaved(stored, null)});
        go(`#/layouts/${encodeURIComponent(stored.id)}`);
      }
      say(`Saved “${logic.titleOf(stored.record)}” as a new layout. The one it was made from is unchanged.`);
    }, (refusal) => {
      set({recard: false});
      say(refusal.message, true);
      return true;
    }),
    'correct-element': ({id, field, value}) => {
      work((now) => logic.correct(now, id, field, value));
      return field === 'width' || field === 'height' ? settleRest() : undefined;
    },
    'keep-element': ({id}) => work((now) => logic.keepElement(now, id)),
    'delete-element': ({id}) => {
      work((now) => logic.deleteElement(now, id));
      say('Element deleted. Undo brings it back.');
    },
    'describe-layout': (words) => work((now) => logic.describe(now, words)),
    'choose-candidate': ({at}) => work((now) => logic.chooseCandidate(now, at)),
    'keep-candidate': ({at, kept}) => work((now) => logic.keepCandidate(now, at, kept)),
    'start-corners': () => work(logic.startCorners),
    'stop-corners': () => work((now) => ({...logic.stopCorners(now), adding: null})),
    'choose-corner': ({corner}) => work((now) => logic.chooseCorner(now, corner)),
    'move-corner': ({corner, to}) => work((now) => logic.moveCorner(now, corner, to)),
    'undo-edit': () => {
      work(logic.undo);
      tell('Undone.');
    },
    'redo-edit': () => {
      work(logic.redo);
      tell('Done again.');
    },
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
      goOn();
    },
    'take-theirs': () => {
      const {conflict} = state;
      if (!conflict) return;
      settle(logic.draftOf(state.work)?.waits?.key);
      work((now) => logic.takeTheirs(now, conflict));
      say('This is the saved layout. Undo shows yours again.');
    },
    'save-merged': async ({record}) => {
      const {conflict} = state;
      const draft = logic.draftOf(state.work);
      if (!conflict || !draft) return;
      settle(draft.waits?.key);
      work((now) => logic.takeMerged(now, conflict, record));
      await save();
    },
    'save-copy': () => attempt('saving', async () => {
      const draft = logic.draftOf(state.work);
      if (!draft) return;
      const stored = await client.saveLayout(logic.copyOf(draft.record), null, null);
      settle(draft.waits?.key);
      set({work: logic.openSaved(stored, state.work?.photo ?? null)});
      go(`#/layouts/${encodeURIComponent(stored.id)}`);
      say('Saved yours as a copy. The other version is kept too.');
    }),
    'close-conflict': () => set({conflict: null}),
    'begin-batch': asked('batches', 'begin-batch'),
    'load-making': asked('batches', 'load-making'),
    'take-many': asked('imports', 'take-many'),
    ...notebook.verbs,
  };
  /** @param {Record<string, (detail: any) => unknown>} those */
  function listen(those) {
    for (const [verb, act] of Object.entries(those)) {
      root.addEventListener(verb, (event) => void act(/** @type {CustomEvent} */ (event).detail));
    }
  }
  listen(verbs);

  window.addEventListener('hashchange', () => void arrive());
  window.addEventListener('online', () => { if (state.outbox.length > 0) void sendWaiting(); });
  window.addEventListener('storage', () => void sentElsewhere());
  // Photos that wait are in this window alone: the browser asks before they are lost.
  window.addEventListener('beforeunload', (event) => { if (state.queue.length > 0) event.preventDefault(); });
  document.addEventListener('keydown', (event) => {
    const typing = event.target instanceof HTMLInputElement || event.target instanceof HTMLTextAreaElement;
    const key = event.key.toLowerCase();
    // Chosen on the photo, where nothing takes the keyboard; the drawing and the table see to their own.
    const idle = event.target === document.body || (event.target instanceof HTMLElement && event.target.tabIndex < 0);
    if (key === 'delete' && idle && state.work?.chosen.length) verbs['delete-chosen']({});
    if (typing || !(event.ctrlKey || event.metaKey) || (key !== 'z' && key !== 'y')) return;
    event.preventDefault();
    verbs[event.shiftKey || key === 'y' ? 'redo-edit' : 'undo-edit']({});
  });

  update(state);
  client.listCards().then((cards) => set({cards}), (refusal) => say(refusal.message, true));
  void arrive(true);
  if (state.outbox.length > 0) void sendWaiting();
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

/** @param {string} id @param {number} [frames] */
function focusOn(id, frames = MOST_FRAMES) {
  // After the parts have drawn what is to be focused.
  requestAnimationFrame(() => {
    const element = document.getElementById(id);
    if (element) element.focus();
    else if (frames > 0) focusOn(id, frames - 1);
  });
}
