// Carries out what the drawer of papers asks for. Fetched when it is first opened.

import {call, Refusal} from './client.js';
import {ALL_PAPERS, countWords, paperParams, savedPaper} from './drawer-logic.js';
import {counted} from './logic.js';

/** @typedef {import('./drawer-logic.js').SavedPaper} SavedPaper */
/** @typedef {import('./drawer-logic.js').PaperVersion} PaperVersion */
/** @typedef {import('./drawer-logic.js').CutFrom} CutFrom */
/**
 * @typedef {object} OpenPaper
 * @property {SavedPaper | null} saved null for one that is new
 * @property {number} turn counts the times that the form is filled anew
 * @property {PaperVersion[] | null} history newest first; null before it was asked for
 * @property {{cards: number, layouts: CutFrom[]} | null} from layouts that it has room for; null before it was asked for
 */
/**
 * @typedef {object} Drawer
 * @property {import('./drawer-logic.js').PaperQuery} query
 * @property {string} wrong why the service did not understand the query
 * @property {SavedPaper[]} list
 * @property {number} total
 * @property {number | null} next what the next part comes after
 * @property {boolean} listed whether it has been fetched
 * @property {{id: number, name: string} | null} deleted what undo would bring back
 * @property {OpenPaper | null} open
 */

/** Papers fetched at a time, and most that the service gives in one answer. */
const [PAGE_SIZE, LARGEST_PAGE] = [60, 500];

/** @type {Drawer} */
const UNOPENED = {query: ALL_PAPERS, wrong: '', list: [], total: 0, next: null, listed: false, deleted: null, open: null};

/**
 * @param {import('./actions.js').ScreenTools} tools
 * @returns {import('./actions.js').Screen}
 */
export function actions({get, set, say, tell, attempt, go, focusOn}) {
  const drawer = () => get().drawer ?? UNOPENED;
  /** @param {Partial<Drawer>} changes */
  const change = (changes) => set({drawer: {...drawer(), ...changes}});
  /** @param {Partial<OpenPaper>} changes */
  const changeOpen = (changes) => {
    const {open} = drawer();
    if (open) change({open: {...open, ...changes}});
  };
  let turn = 0;
  /** @param {SavedPaper | null} saved @returns {OpenPaper} */
  const opened = (saved) => ({saved, turn: (turn += 1), history: null, from: null});

  /** Which search is the latest: an earlier one that comes late is dropped. */
  let search = 0;
  /** @param {number | null} [after] */
  async function find(after = null) {
    const now = (search += 1);
    const params = paperParams(drawer().query);
    params.set('limit', String(after === null ? Math.min(Math.max(PAGE_SIZE, drawer().list.length), LARGEST_PAGE) : PAGE_SIZE));
    if (after !== null) params.set('after', String(after));
    try {
      const {body} = await call('GET', `/api/papers?${params}`);
      if (now !== search) return;
      const found = body.papers.map(savedPaper);
      change({list: after === null ? found : [...drawer().list, ...found], total: body.total, next: body.next, listed: true, wrong: ''});
      if (after !== null && found[0]) focusOn(`paper-${found[0].id}`);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      if (now !== search) return;
      // A size that is half typed is told at the form.
      const wrong = error.status === 400;
      change({listed: true, wrong: wrong ? error.message : ''});
      if (!wrong) say(error.message, true);
    }
  }

  /**
   * The paper as it is now takes the place of the one that is shown.
   * @param {SavedPaper} saved
   * @param {boolean} anew whether the form is filled anew; else what was typed stays
   */
  function replace(saved, anew) {
    const {list, open} = drawer();
    const now = open?.saved?.id !== saved.id ? open : anew ? opened(saved) : {...open, saved, history: null, from: null};
    change({list: list.map((one) => (one.id === saved.id ? saved : one)), open: now});
  }

  /** @param {number} id */
  const fetchPaper = async (id) => savedPaper((await call('GET', `/api/papers/${id}`)).body);

  /**
   * One sheet more or fewer, also where somebody else has changed the paper meanwhile.
   * @param {SavedPaper} saved
   * @param {number} by
   * @returns {Promise<SavedPaper>}
   */
  async function count(saved, by) {
    const paper = {...saved.paper, count: Math.max(0, saved.paper.count + by)};
    try {
      return savedPaper((await call('PUT', `/api/papers/${saved.id}`, {json: paper, ifMatch: saved.etag})).body);
    } catch (error) {
      if (!(error instanceof Refusal) || error.status !== 412) throw error;
      return count(await fetchPaper(saved.id), by);
    }
  }

  /** @type {Record<string, (detail: any) => unknown>} */
  const verbs = {
    'find-papers': async ({query}) => {
      change({query: {...drawer().query, ...query}});
      await find();
      if (!drawer().wrong) tell(`${counted(drawer().total, 'paper')} found.`);
    },
    'more-papers': () => find(drawer().next),
    'count-sheets': ({saved, by}) => attempt('saving', async () => {
      const now = await count(saved, by);
      replace(now, false);
      say(`${now.paper.name}: ${countWords(now.paper)}.`);
    }),
    'save-paper': ({paper}) => attempt('saving', async () => {
      const before = drawer().open?.saved ?? null;
      if (before === null) {
        const saved = savedPaper((await call('POST', '/api/papers', {json: paper})).body);
        go('#/papers', `paper-${saved.id}`);
        say(`${saved.paper.name} is in the drawer: ${countWords(saved.paper)}.`);
        return;
      }
      try {
        replace(savedPaper((await call('PUT', `/api/papers/${before.id}`, {json: paper, ifMatch: before.etag})).body), true);
        say('Saved.');
      } catch (error) {
        if (!(error instanceof Refusal) || error.status !== 412) throw error;
        const theirs = await fetchPaper(before.id);
        replace(theirs, false);
        say(`This paper was changed elsewhere meanwhile: ${countWords(theirs.paper)} now. What you typed is still here; save again to keep it.`, true);
      }
    }),
    'cut-paper': ({cut}) => attempt('saving', async () => {
      const before = drawer().open?.saved;
      if (!before) return;
      const {body} = await call('POST', `/api/papers/${before.id}/cuts`, {json: cut, ifMatch: before.etag});
      const [now, ...offcuts] = body.papers.map(savedPaper);
      replace(now, false);
      const back = offcuts.reduce((/** @type {number} */ sum, /** @type {SavedPaper} */ one) => sum + one.paper.count, 0);
      say(`${counted(cut.sheets, 'sheet')} taken: ${countWords(now.paper)}.${back > 0 ? ` ${counted(back, 'offcut')} put into the drawer.` : ''}`);
      focusOn('paper-heading');
    }),
    'delete-paper': () => attempt('saving', async () => {
      const saved = drawer().open?.saved;
      if (!saved) return;
      await call('DELETE', `/api/papers/${saved.id}`, {ifMatch: saved.etag});
      change({deleted: {id: saved.id, name: saved.paper.name}});
      go('#/papers', 'undo-paper');
      say(`“${saved.paper.name}” is taken out of the drawer. Undo brings it back.`);
    }),
    'undo-paper': () => attempt('saving', async () => {
      const {deleted} = drawer();
      if (!deleted) return;
      const {versions} = (await call('GET', `/api/papers/${deleted.id}/versions`)).body;
      const last = versions.find((/** @type {PaperVersion} */ one) => !one.deleted);
      await call('POST', `/api/papers/${deleted.id}/versions/${last.version}/restore`);
      change({deleted: null});
      await find();
      say(`“${deleted.name}” is back.`);
      focusOn(`paper-${deleted.id}`);
    }),
    'dismiss-paper': () => {
      change({deleted: null});
      focusOn('papers-heading');
    },
    'paper-history': () => attempt('opening', async () => {
      const saved = drawer().open?.saved;
      if (saved) changeOpen({history: (await call('GET', `/api/papers/${saved.id}/versions`)).body.versions});
    }),
    'restore-paper': ({version}) => attempt('saving', async () => {
      const saved = drawer().open?.saved;
      if (!saved) return;
      const {body} = await call('POST', `/api/papers/${saved.id}/versions/${version}/restore`, {ifMatch: saved.etag});
      replace(savedPaper(body), true);
      say('The paper is as it was then. Nothing was lost.');
      focusOn('paper-heading');
    }),
    'paper-layouts': ({cards}) => attempt('opening', async () => {
      const saved = drawer().open?.saved;
      if (!saved) return;
      const {layouts} = (await call('GET', `/api/papers/${saved.id}/layouts?cards=${cards}`)).body;
      changeOpen({from: {cards, layouts}});
      tell(`${counted(layouts.length, 'layout')} found.`);
    }),
    'bring-in-papers': ({file}) => attempt('saving', async () => {
      const text = await file.text();
      const {body} = await call('POST', '/api/papers.csv', {text, type: 'text/csv'});
      change({query: ALL_PAPERS});
      await find();
      say(`${counted(body.papers.length, 'paper')} put into the drawer.`);
      if (body.papers[0]) focusOn(`paper-${body.papers[0].id}`);
    }),
  };

  /** @param {string} rest what follows `#/papers/` */
  async function arrive(rest) {
    if (rest === 'new') {
      change({open: opened(null)});
      return 'paper-heading';
    }
    if (/^\d+$/.test(rest)) {
      try {
        change({open: opened(await fetchPaper(Number(rest)))});
        return 'paper-heading';
      } catch (error) {
        if (!(error instanceof Refusal)) throw error;
        say(error.message, true);
      }
    }
    change({open: null});
    await find();
    return 'papers-heading';
  }
  return {arrive, verbs};
}
