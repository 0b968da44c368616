// Carries out what the notebook, the versions and the printing ask for.

import * as client from './notebook-client.js';
import * as logic from './notebook-logic.js';
import {Refusal} from './client.js';
import {counted, draftOf, isChanged, openSaved, titleOf} from './logic.js';

/** @typedef {import('./actions.js').State} State */
/** @typedef {import('./notebook-client.js').Version} Version */
/** @typedef {import('./notebook-client.js').Tag} Tag */
/** @typedef {import('./notebook-logic.js').Query} Query */
/** @typedef {import('./notebook-logic.js').Shelf} Shelf */
/** @typedef {import('./logic.js').Layout} Layout */
/**
 * @typedef {object} History The versions of the layout that is open.
 * @property {string} id
 * @property {Version[]} versions newest first
 * @property {number | null} left
 * @property {number | null} right
 * @property {Record<number, Layout>} records those that were looked at
 */
/**
 * @typedef {object} NotebookState
 * @property {Query} query
 * @property {string} wrongQuery why the service did not understand the query
 * @property {Tag[]} tags
 * @property {boolean} choosing whether several are being chosen
 * @property {ReadonlySet<string>} chosen ids
 * @property {string[]} deletedTogether what undo would bring back
 * @property {{id: string, shelf: Shelf} | null} shelf of the layout that is open
 * @property {History | null} history
 */
/**
 * @typedef {object} Tools What the actions of the page lend.
 * @property {() => State} get
 * @property {(change: Partial<State>) => void} set
 * @property {(text: string, bad?: boolean) => void} say
 * @property {(busy: 'saving' | 'opening', run: () => Promise<void>) => Promise<void>} attempt
 * @property {(id: string) => void} focusOn
 */

/** Layouts fetched at a time: two screens of a desktop. */
const PAGE_SIZE = 60;
/** Fewer at first, so that the first of them are there at once. */
const FIRST_PAGE = 24;
/** Most that the service gives in one answer. */
const LARGEST_PAGE = 200;

/** @returns {NotebookState} */
export const emptyNotebook = () => ({
  query: logic.NO_QUERY, wrongQuery: '', tags: [], choosing: false, chosen: new Set(), deletedTogether: [], shelf: null, history: null,
});

/**
 * @param {Tools} tools
 * @returns {{refresh: () => Promise<void>, verbs: Record<string, (detail: any) => unknown>}}
 */
export function notebookActions({get, set, say, attempt, focusOn}) {
  const params = () => logic.paramsOf(get().query, new Date());
  /** Which fetch is the latest: an earlier one that comes late is dropped. */
  let turn = 0;

  /** Fetches what is shown, again. */
  async function refresh() {
    const now = (turn += 1);
    const {list} = get();
    const wanted = Math.min(Math.max(FIRST_PAGE, list.length), LARGEST_PAGE);
    try {
      const [{layouts, total}, tags] = await Promise.all([client.findLayouts(params(), wanted, null), client.listTags()]);
      if (now !== turn) return;
      const there = new Set(layouts.map(({id}) => id));
      const chosen = new Set([...get().chosen].filter((id) => there.has(id) || list.length > LARGEST_PAGE));
      set({list: layouts, total, listed: true, wrongQuery: '', tags, chosen});
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      if (now !== turn) return;
      // A size that is half typed is no trouble of the notebook: it is told at the form.
      const wrong = error.status === 400 || error.status === 422;
      set({listed: true, wrongQuery: wrong ? error.message : ''});
      if (!wrong) say(error.message, true);
    }
  }

  let fetching = false;
  /** @param {boolean} byHand whether the person pressed for it */
  async function showMore(byHand) {
    const {list, total} = get();
    if (fetching || list.length >= total) return;
    fetching = true;
    const now = turn;
    try {
      const {layouts, total: all} = await client.findLayouts(params(), PAGE_SIZE, list.at(-1)?.id ?? null);
      if (now !== turn) return;
      set({list: [...list, ...layouts], total: all});
      if (byHand && layouts[0]) focusOn(`layout-${layouts[0].id}`);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      say(error.message, true);
    } finally {
      fetching = false;
    }
  }

  /** @param {Query} query */
  async function look(query) {
    set({query, list: [], chosen: new Set()});
    await refresh();
    if (!get().wrongQuery) say(`${logic.totalWords(get().total, query)}.`);
  }

  /** @param {string} id @param {Shelf} shelf */
  function shelve(id, shelf) {
    const {list, shelf: open} = get();
    set({
      list: list.map((one) => (one.id === id ? {...one, shelf} : one)),
      shelf: open?.id === id ? {id, shelf} : open,
    });
  }

  /** @param {string} id @returns {Promise<History>} */
  async function historyOf(id) {
    const versions = await client.listVersions(id);
    const kept = versions.filter(({deleted}) => !deleted);
    return {id, versions, left: kept[1]?.version ?? null, right: kept[0]?.version ?? null, records: {}};
  }

  /** Fetches the two that are compared. @param {History} history */
  async function compare(history) {
    const records = {...history.records};
    for (const version of [history.left, history.right]) {
      if (version !== null && !records[version]) records[version] = await client.openVersion(history.id, version);
    }
    set({history: {...history, records}});
  }

  const chosenIds = () => [...get().chosen];

  /** @type {Record<string, (detail: any) => unknown>} */
  const verbs = {
    'search-layouts': ({query}) => look({...get().query, ...query}),
    'forget-condition': async ({condition}) => {
      await look(logic.without(get().query, condition));
      focusOn('search-text');
    },
    'clear-search': async () => {
      await look({...logic.NO_QUERY, order: get().query.order});
      focusOn('search-text');
    },
    'show-more': () => showMore(true),
    'need-more': () => showMore(false),
    'mark-favourite': ({id, favourite}) => attempt('saving', async () => {
      shelve(id, await client.setFavourite(id, favourite));
      say(favourite ? 'Marked as a favourite.' : 'No longer a favourite.');
    }),
    'count-use': ({id, used}) => attempt('saving', async () => {
      const shelf = await client.countUse(id, used);
      shelve(id, shelf);
      say(used ? `Noted. ${logic.useWords(shelf)}.` : `Taken back. ${logic.useWords(shelf)}.`);
    }),
    'load-shelf': async ({id}) => {
      const shelf = await client.openShelf(id).catch(() => null);
      if (shelf) set({shelf: {id, shelf}});
    },
    'start-choosing': () => {
      set({choosing: true});
      say('Tick the layouts you want, then make cards of them, print, tag or delete them together.');
    },
    'stop-choosing': () => {
      set({choosing: false, chosen: new Set()});
      focusOn('start-choosing');
    },
    'choose-layout': ({id, on}) => set({chosen: logic.choose(get().chosen, id, on)}),
    'choose-shown': () => {
      set({chosen: new Set(get().list.map(({id}) => id))});
      say(`${counted(get().chosen.size, 'layout')} chosen.`);
    },
    'tag-chosen': ({add = [], remove = []}) => attempt('saving', async () => {
      const ids = chosenIds();
      await client.tagLayouts(ids, add, remove);
      await refresh();
      const words = [...add, ...remove].map((tag) => `“${tag}”`).join(', ');
      say(`${words} ${add.length > 0 ? 'added to' : 'taken from'} ${counted(ids.length, 'layout')}.`);
    }),
    'delete-layouts': () => attempt('saving', async () => {
      const ids = chosenIds();
      await client.deleteLayouts(ids);
      set({chosen: new Set(), choosing: false, deletedTogether: ids});
      await refresh();
      say(`${counted(ids.length, 'layout')} deleted. Undo brings ${ids.length === 1 ? 'it' : 'them'} back.`);
      focusOn('undo-together');
    }),
    'undo-together': () => attempt('saving', async () => {
      const ids = get().deletedTogether;
      await client.bringBackLayouts(ids);
      set({deletedTogether: []});
      await refresh();
      say(`${counted(ids.length, 'layout')} ${ids.length === 1 ? 'is' : 'are'} back.`);
      focusOn(`layout-${ids[0]}`);
    }),
    'dismiss-together': () => {
      set({deletedTogether: []});
      focusOn('search-text');
    },
    'bring-in-files': ({files}) => attempt('saving', async () => {
      let count = 0;
      /** @type {string | null} */
      let last = null;
      for (const file of /** @type {File[]} */ (files)) {
        try {
          for (const record of logic.recordsOf(await file.text())) {
            last = (await client.bringIn(record)).id;
            count += 1;
          }
        } catch (error) {
          const told = error instanceof Refusal ? error.message : 'it is no layout file. Save one with “Data (JSON)” and try that.';
          await refresh();
          say(`${file.name}: ${told}${count > 0 ? ` ${counted(count, 'layout')} before it came in.` : ''}`, true);
          return;
        }
      }
      await refresh();
      say(`${counted(count, 'layout')} brought in.`);
      focusOn(`layout-${last}`);
    }),
    'load-versions': ({id}) => attempt('opening', async () => compare(await historyOf(id))),
    'close-versions': () => {
      set({history: null});
      focusOn('open-versions');
    },
    'compare-versions': ({left, right}) => attempt('opening', async () => {
      const {history} = get();
      if (history) await compare({...history, left, right});
    }),
    'restore-version': ({version}) => attempt('saving', async () => {
      const {work, history} = get();
      const draft = draftOf(work);
      if (!draft?.id || history?.id !== draft.id) return;
      if (isChanged(draft)) {
        say('Save or undo your changes first, then bring the earlier version back.', true);
        return;
      }
      const stored = await client.restoreVersion(draft.id, version, draft.etag);
      set({work: openSaved(stored, work?.photo ?? null)});
      await compare(await historyOf(draft.id));
      say(`Version ${version} of “${titleOf(stored.record)}” is back as the newest. Nothing was lost.`);
    }),
  };
  return {refresh, verbs};
}
