// Carries out what batches ask for: saving them as they are changed, planning
// them anew after each change, and telling the drawer what was cut; and what
// it takes to make cards of the open layout. Fetched when it is first wanted.

import * as logic from './batch-logic.js';
import {call, Refusal, sentenceOf} from './client.js';
import {savedPaper} from './drawer-logic.js';

/** @typedef {import('./batch-logic.js').SavedBatch} SavedBatch */
/** @typedef {import('./batch-logic.js').Batch} Batch */
/** @typedef {import('./batch-logic.js').Plan} Plan */
/** @typedef {import('./drawer-logic.js').SavedPaper} SavedPaper */
/**
 * @typedef {object} OpenBatch
 * @property {SavedBatch} saved
 * @property {Batch} kept the record as the service has it
 * @property {Plan | null} plan
 * @property {import('./batch-logic.js').Totals | null} totals of the best plan so far
 * @property {boolean} planning
 * @property {string} trouble why there is no plan
 * @property {SavedPaper[]} papers those of which a sheet is left
 */
/**
 * @typedef {object} Batches
 * @property {SavedBatch[]} list
 * @property {boolean} listed
 * @property {{record: Batch, cut: boolean} | null} deleted
 * @property {OpenBatch | null} open
 */
/** @typedef {{id: string, cards: number, made: import('./making.js').Made | null, trouble: string}} Making */

/** Rest after the last change before the batch is saved and planned, in ms. */
const REST_MS = 400;
/** A planner that has no room is asked again after so long, in ms, and so often. */
const [AGAIN_MS, MOST_TRIES] = [700, 12];
/** Rounds of a search that is asked to look longer: ten times the usual. */
const LONGER_ROUNDS = 200_000;
/** Most papers that can be chosen from: the service's largest part. */
const MOST_PAPERS = 500;
/** Kinds of refusals after which the drawer has to be looked at again. */
const CHANGED = ['no-plan', 'paper-changed', 'too-few-sheets'];

/**
 * @param {import('./actions.js').ScreenTools} tools
 * @returns {import('./actions.js').Screen}
 */
export function actions({get, set, say, tell, attempt, go, focusOn}) {
  /** @returns {Batches} */
  const batches = () => get().batches ?? {list: [], listed: false, deleted: null, open: null};
  /** @param {Partial<Batches>} changes */
  const change = (changes) => set({batches: {...batches(), ...changes}});
  /** @param {Partial<OpenBatch>} changes */
  const changeOpen = (changes) => {
    const {open} = batches();
    if (open) change({open: {...open, ...changes}});
  };
  const isOpen = (/** @type {number} */ id) => batches().open?.saved.id === id;

  /** @param {number} id */
  const fetchBatch = async (id) => logic.savedBatch((await call('GET', `/api/batches/${id}`)).body);
  const fetchPapers = async () => (await call('GET', `/api/papers?in_stock=true&limit=${MOST_PAPERS}`)).body.papers.map(savedPaper);
  /** @param {number} id @returns {Promise<Plan | null>} */
  const fetchPlan = (id) => call('GET', `/api/batches/${id}/plan`).then(({body}) => body, (error) => {
    if (error instanceof Refusal && error.status === 409) return null;
    throw error;
  });

  async function list() {
    try {
      const {body} = await call('GET', '/api/batches');
      change({list: body.batches.map(logic.savedBatch), listed: true});
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      change({listed: true});
      say(error.message, true);
    }
  }

  /** Saves follow each other; each sends what is there by then. */
  let saving = Promise.resolve();
  function save() {
    saving = saving.then(async () => {
      const {open} = batches();
      if (!open || open.kept === open.saved.record || open.saved.cutAt) return;
      const {record} = open.saved;
      const id = open.saved.id;
      try {
        const now = logic.savedBatch((await call('PUT', `/api/batches/${id}`, {json: record, ifMatch: open.saved.etag})).body);
        const latest = batches().open;
        if (latest?.saved.id === id) changeOpen({saved: {...now, record: latest.saved.record}, kept: record});
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        if (error.status !== 412 && error.status !== 409) return say(error.message, true);
        const theirs = await fetchBatch(id);
        if (isOpen(id)) changeOpen({saved: theirs, kept: theirs.record});
        say('This batch was changed elsewhere meanwhile. It is shown as it is now; change it again if you need to.', true);
      }
    });
    return saving;
  }

  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let resting;
  let search = new AbortController();
  /** Ends the search; the service keeps the best plan so far. */
  function stop() {
    clearTimeout(resting);
    search.abort();
    changeOpen({planning: false});
  }

  /** @param {(batch: Batch) => Batch} how */
  function edit(how) {
    const {open} = batches();
    if (!open || open.saved.cutAt) return;
    const record = how(open.saved.record);
    if (record === open.saved.record) return;
    search.abort();
    changeOpen({saved: {...open.saved, record}, planning: true});
    clearTimeout(resting);
    resting = setTimeout(() => void planAgain(), REST_MS);
  }

  /**
   * Saves what was changed and plans it: the first plan at once, then better ones.
   * @param {number} [rounds]
   */
  async function planAgain(rounds) {
    search.abort();
    const mine = (search = new AbortController());
    const id = batches().open?.saved.id;
    if (id === undefined) return;
    const current = () => isOpen(id) && search === mine && !mine.signal.aborted;
    changeOpen({planning: true, trouble: ''});
    await save();
    if (!current()) return;
    if (batches().open?.saved.cutAt) return changeOpen({planning: false});
    try {
      const seen = (/** @type {string} */ name, /** @type {any} */ data) => {
        if (!current()) return;
        if (name === 'progress') changeOpen({totals: data});
        if (name === 'plan') changeOpen({plan: data, totals: data.totals});
        if (name === 'problem') throw new Refusal(sentenceOf(data, data.status), data.status, data);
      };
      if (rounds === undefined) seen('plan', JSON.parse(await (await planner(id, 'rounds=0', 'application/json', mine.signal)).text()));
      const better = await planner(id, rounds === undefined ? '' : `rounds=${rounds}`, 'text/event-stream', mine.signal);
      await readEvents(better, seen);
      if (!current()) return;
      changeOpen({planning: false});
      const {totals} = batches().open ?? {};
      if (totals) tell(`Planned. ${logic.totalsWords(totals)}`);
    } catch (error) {
      if (mine.signal.aborted || !current()) return;
      if (!(error instanceof Refusal)) throw error;
      changeOpen({planning: false, trouble: error.message});
      say(error.message, true);
    }
  }

  /**
   * @param {number} id
   * @param {string} query
   * @param {string} accept
   * @param {AbortSignal} signal
   * @returns {Promise<Response>}
   */
  async function planner(id, query, accept, signal) {
    for (let tries = 1; ; tries += 1) {
      const response = await fetch(`/api/batches/${id}/plan?${query}`, {method: 'POST', headers: {Accept: accept}, signal}).catch(() => {
        throw new Refusal('The service does not answer. What you did is still here; try again in a moment.', 0);
      });
      if (response.ok) return response;
      const problem = await response.json().catch(() => null);
      if (response.status !== 503 || tries === MOST_TRIES) throw new Refusal(sentenceOf(problem, response.status), response.status, problem ?? {});
      await new Promise((resolve) => setTimeout(resolve, AGAIN_MS));
      signal.throwIfAborted();
    }
  }

  /** @type {Record<string, (detail: any) => unknown>} */
  const verbs = {
    'begin-batch-now': ({layouts}) => attempt('saving', async () => {
      const {body} = await call('POST', '/api/batches', {json: logic.newBatch(layouts)});
      go(`#/batches/${body.id}`);
    }),
    'name-batch': ({title}) => edit((batch) => ({...batch, title})),
    'set-cards': ({layout, cards}) => edit((batch) => logic.withCards(batch, layout, cards)),
    'drop-layout': ({layout}) => {
      edit((batch) => logic.withoutLayout(batch, layout));
      focusOn('cards-heading');
    },
    'choose-paper': ({layout, supply, value}) => edit((batch) => logic.withPaper(batch, layout, supply, value)),
    'set-cutting': (cutting) => edit((batch) => logic.withCutting(batch, cutting)),
    'stop-planning': async () => {
      const id = batches().open?.saved.id;
      stop();
      tell('Stopped. The best plan so far is shown.');
      const plan = id === undefined ? null : await fetchPlan(id).catch(() => null);
      if (id !== undefined && plan && isOpen(id) && !batches().open?.planning) changeOpen({plan, totals: plan.totals});
    },
    'plan-longer': () => planAgain(LONGER_ROUNDS),
    'cut-batch': () => attempt('saving', async () => {
      const {open} = batches();
      if (!open || open.planning || open.saved.cutAt) return;
      const {id, etag} = open.saved;
      // What is cut is what was looked at.
      const plan = await fetchPlan(id);
      if (plan && JSON.stringify(plan) !== JSON.stringify(open.plan)) {
        changeOpen({plan, totals: plan.totals});
        say('The plan has become another one meanwhile. Look at it, then say that it is cut.', true);
        return;
      }
      try {
        const {body} = await call('PUT', `/api/batches/${id}/cut`, {ifMatch: etag});
        const saved = await fetchBatch(id);
        changeOpen({saved, kept: saved.record});
        say(logic.cutDoneWords({papers: body.papers.map(savedPaper), taken: body.taken}));
        focusOn('uncut');
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        say(error.message, true);
        if (!CHANGED.some((kind) => String(error.body.type).endsWith(kind))) return;
        changeOpen({papers: await fetchPapers()});
      }
    }),
    'uncut-batch': () => attempt('saving', async () => {
      const id = batches().open?.saved.id;
      if (id === undefined) return;
      await call('DELETE', `/api/batches/${id}/cut`);
      const saved = await fetchBatch(id);
      changeOpen({saved, kept: saved.record, papers: await fetchPapers()});
      say('Taken back: the sheets are in the drawer again, and the offcuts are not.');
      focusOn('batch-heading');
    }),
    'plan-batch': async () => {
      changeOpen({papers: await fetchPapers()});
      await planAgain();
    },
    'delete-batch': () => attempt('saving', async () => {
      const {open} = batches();
      if (!open) return;
      stop();
      await save();
      const {saved} = batches().open ?? open;
      await call('DELETE', `/api/batches/${saved.id}`, {ifMatch: saved.etag});
      const cut = saved.cutAt !== null;
      change({deleted: {record: saved.record, cut}});
      go('#/batches', cut ? 'batches-heading' : 'undo-batch');
      say(cut ? 'The batch is deleted. What was cut stays cut.' : 'The batch is deleted. Undo brings it back.');
    }),
    'undo-batch': () => attempt('saving', async () => {
      const {deleted} = batches();
      if (!deleted) return;
      const {body} = await call('POST', '/api/batches', {json: deleted.record});
      change({deleted: null});
      await list();
      say('The batch is back.');
      focusOn(`batch-${body.id}`);
    }),
    'dismiss-batch': () => {
      change({deleted: null});
      focusOn('batches-heading');
    },
    'load-making-now': ({id, cards}) => attempt('opening', async () => {
      try {
        const {body} = await call('GET', `/api/layouts/${encodeURIComponent(id)}/pieces?cards=${cards}`);
        set({making: {id, cards, made: body, trouble: ''}});
        focusOn('making-pieces');
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        set({making: {id, cards, made: null, trouble: error.message}});
      }
    }),
  };

  /** @param {string} rest what follows `#/batches/` */
  async function arrive(rest) {
    stop();
    // What was changed a moment ago is not lost on the way.
    await save();
    if (/^\d+$/.test(rest)) {
      try {
        const [saved, papers, plan] = await Promise.all([fetchBatch(Number(rest)), fetchPapers(), fetchPlan(Number(rest))]);
        change({open: {saved, kept: saved.record, plan, totals: plan?.totals ?? null, planning: false, trouble: '', papers}});
        // Papers may have come and gone since it was planned.
        if (!saved.cutAt) void planAgain();
        return 'batch-heading';
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        say(error.message, true);
      }
    }
    change({open: null});
    await list();
    return 'batches-heading';
  }
  return {arrive, verbs};
}

/**
 * Hands on each event of a stream as it comes.
 * @param {Response} response
 * @param {(name: string, data: any) => void} seen
 */
async function readEvents(response, seen) {
  const reader = response.body?.pipeThrough(new TextDecoderStream()).getReader();
  let text = '';
  while (reader) {
    const {done, value} = await reader.read();
    if (done) return;
    const {events, rest} = logic.eventsIn(text + value);
    text = rest;
    for (const {name, data} of events) seen(name, data);
  }
}
