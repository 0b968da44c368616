// Imports: what was dropped and how it is sent, what came of it, and words for
// all of it. Pure; no DOM, no network.

import {counted} from './logic.js';

/** @typedef {'read' | 'doubtful' | 'already-there' | 'blank' | 'no-layout' | 'which-card' | 'unreadable'} Outcome */
/** @typedef {{id: number, like?: number, verdict?: string}} LayoutRead */
/** @typedef {{page: number, outcome: Outcome, reason: string, photo?: string, layouts: LayoutRead[]}} PageResult */
/** @typedef {{sequence: number, number: number, name: string, pages: PageResult[]}} FileResult */
/** @typedef {Record<'files' | 'files_done' | 'layouts' | 'alike' | 'read' | 'doubtful' | 'already_there' | 'blank' | 'no_layout' | 'which_card' | 'unreadable', number>} Counts */
/** @typedef {{id: number, state: 'running' | 'paused' | 'canceled' | 'done', open: boolean, card: string | null, cards: string[], made_at: string, finished_at: string | null, counts: Counts}} Import */
/** @typedef {{files: ReadonlyMap<number, FileResult>, last: number}} Seen What came of the files, by their numbers, and the last that was told. */
/**
 * @typedef {object} Item One thing that came in: a layout, or a page without one.
 * @property {string} key
 * @property {string} file
 * @property {string} folder
 * @property {string} part which page and layout of the file, where there are several
 * @property {Outcome} outcome
 * @property {string} reason why it is to be looked at
 * @property {number | null} layout
 * @property {number | null} like the earlier layout that it looks like, as long as nobody has decided
 * @property {string | null} photo
 * @property {boolean} merged whether it was called the same as the earlier one
 */
/** @typedef {Record<'card' | 'alike' | 'doubtful' | 'none' | 'unreadable' | 'read' | 'there' | 'blank', Item[]>} Groups */
/** @typedef {{name: string, size: number, type?: string}} FileFacts */
/** @typedef {'one' | 'outline' | 'folders'} Way */
/** @typedef {{way: Way, card: string, among: string[], otherwise: string, folders: Record<string, string>}} Rule How the card of a file is told. */
/** @typedef {{at: number, done: number}} Sample */

/** Files of one request, and their bytes: little is sent again after a broken connection. */
const [MOST_FILES, MOST_BYTES] = [10, 50_000_000];
/** Largest file the service takes, in bytes. */
export const LARGEST_FILE = 200_000_000;
/** The pace is that of the last minute, once it has been watched for some seconds, in ms. */
const [PACE_MS, LEAST_PACE_MS] = [60_000, 4_000];
/** What systems put into folders for themselves. */
const OF_SYSTEM = new Set(['Thumbs.db', 'desktop.ini', '__MACOSX']);
/** Endings of what can be read. */
const ENDINGS = /\.(jpe?g|png|webp|tiff?|heic|heif|hif|pdf|zip)$/i;
const order = new Intl.Collator('en', {numeric: true});

/** @returns {Seen} */
export const nothingSeen = () => ({files: new Map(), last: 0});

/**
 * With what came of more files; of a file that was read again, the latest.
 * @param {Seen} seen
 * @param {FileResult[]} results
 * @returns {Seen}
 */
export function withResults(seen, results) {
  if (results.length === 0) return seen;
  const files = new Map(seen.files);
  let {last} = seen;
  for (const result of results) {
    files.set(result.number, result);
    last = Math.max(last, result.sequence);
  }
  return {files, last};
}

/**
 * Without the files that wait for a card: they are read again. The service
 * counts on from the last outcome that is left.
 * @param {Seen} seen
 * @returns {Seen}
 */
export function withoutWaiting(seen) {
  const files = [...seen.files].filter(([, {pages}]) => !pages.some(({outcome}) => outcome === 'which-card'));
  return {files: new Map(files), last: Math.max(0, ...files.map(([, {sequence}]) => sequence))};
}

/**
 * With what was said about a layout that looks like an earlier one.
 * @param {Seen} seen
 * @param {number} layout
 * @param {'same' | 'different'} verdict
 * @returns {Seen}
 */
export function withVerdict(seen, layout, verdict) {
  const files = new Map(seen.files);
  for (const [number, file] of files) {
    if (!file.pages.some(({layouts}) => layouts.some(({id}) => id === layout))) continue;
    const pages = file.pages.map((page) => ({...page, layouts: page.layouts.map((one) => (one.id === layout ? {...one, verdict} : one))}));
    files.set(number, {...file, pages});
  }
  return {...seen, files};
}

/** Whether everything that will be told of an import has been. @param {Import} now @param {Seen} seen */
export const isOver = ({state, counts}, seen) => (state === 'done' || state === 'canceled') && seen.files.size >= counts.files_done;

/** Items are made once for each file, so that what is drawn is known again. @type {WeakMap<FileResult, Item[]>} */
const known = new WeakMap();

/** @param {FileResult} file @returns {Item[]} */
function itemsOf(file) {
  /** @param {PageResult} page @returns {Item[]} */
  const ofPage = (page) => {
    const slash = file.name.lastIndexOf('/');
    const [folder, name] = [file.name.slice(0, Math.max(slash, 0)), file.name.slice(slash + 1)];
    const base = {file: name, folder, outcome: page.outcome, reason: page.reason, photo: page.photo ?? null};
    const pageWords = file.pages.length > 1 ? [`page ${page.page}`] : [];
    const key = `${file.number}-${page.page}`;
    if (page.layouts.length === 0) return [{...base, key, part: pageWords.join(''), layout: null, like: null, merged: false}];
    return page.layouts.map(({id, like, verdict}, at) => ({
      ...base, key: `${key}-${id}`, layout: id,
      part: [...pageWords, ...(page.layouts.length > 1 ? [`layout ${at + 1}`] : [])].join(', '),
      like: like !== undefined && verdict === undefined ? like : null, merged: verdict === 'same',
    }));
  };
  const made = known.get(file) ?? file.pages.flatMap(ofPage);
  known.set(file, made);
  return made;
}

/** @type {Record<Outcome, keyof Groups>} */
const GROUP = {
  'which-card': 'card', doubtful: 'doubtful', 'no-layout': 'none', unreadable: 'unreadable', read: 'read', 'already-there': 'there', blank: 'blank',
};

/**
 * What came in, sorted by what a person has to do with it, each in the order of the files.
 * @param {Seen} seen
 * @param {ReadonlySet<number>} [back] layouts that were called the same and brought back
 * @returns {Groups}
 */
export function sortOut(seen, back = new Set()) {
  /** @type {Groups} */
  const groups = {card: [], alike: [], doubtful: [], none: [], unreadable: [], read: [], there: [], blank: []};
  for (const file of [...seen.files.values()].sort((a, b) => a.number - b.number)) {
    for (const item of itemsOf(file)) {
      if (item.merged && item.layout !== null && !back.has(item.layout)) groups.there.push(item);
      else if (item.like !== null) groups.alike.push(item);
      else groups[GROUP[item.outcome] ?? 'unreadable'].push(item);
    }
  }
  return groups;
}

/** Things to look at. @param {Counts} counts */
export const toLookAt = (counts) => counts.doubtful + counts.alike + counts.no_layout + counts.which_card + counts.unreadable;

/** A number with its thousands apart. @param {number} number */
const grouped = (number) => number.toLocaleString('en-US');

/** @param {number} count @param {string} noun */
export const many = (count, noun) => (count === 1 ? counted(1, noun) : `${grouped(count)} ${noun}s`);

/** @param {Import} now */
export function stateWords({state, open, counts}) {
  if (state === 'paused') return 'Paused';
  if (state === 'canceled') return 'Given up';
  if (state === 'done') return 'Done';
  if (open && counts.files_done >= counts.files) return 'Waiting for more files';
  return counts.files_done === 0 ? 'Beginning' : 'Being read';
}

/** What came of an import, in a line. @param {Counts} counts */
export function countsWords(counts) {
  const look = toLookAt(counts);
  return [
    many(counts.files, 'file'),
    `${many(counts.layouts, 'layout')} in the notebook`,
    ...(look > 0 ? [`${grouped(look)} to look at`] : []),
    ...(counts.already_there > 0 ? [`${grouped(counts.already_there)} already there`] : []),
    ...(counts.blank > 0 ? [`${grouped(counts.blank)} blank`] : []),
  ].join(' · ');
}

/** @param {Counts} counts */
export const progressWords = ({files, files_done: done}) => `${grouped(done)} of ${many(files, 'file')} read`;

/** Said when the last file has its outcome. @param {Import} now */
export function endWords({state, counts}) {
  const look = toLookAt(counts);
  const begun = state === 'canceled' ? `Given up after ${grouped(counts.files_done)} of ${many(counts.files, 'file')}.` : `All read: ${many(counts.files, 'file')}.`;
  return `${begun} ${many(counts.layouts, 'layout')} in the notebook, ${look === 0 ? 'nothing to look at' : `${grouped(look)} to look at`}.`;
}

/**
 * How far it was lately; a number that went down begins anew.
 * @param {Sample[]} samples
 * @param {Sample} now
 * @returns {Sample[]}
 */
export function withSample(samples, now) {
  const last = samples.at(-1);
  if (last && now.done < last.done) return [now];
  const recent = samples.filter(({at}) => now.at - at <= PACE_MS);
  // The last before the minute still tells what was done in it.
  const older = samples.findLast(({at}) => now.at - at > PACE_MS);
  return [...(older ? [older] : []), ...recent, now];
}

/**
 * Pace and time left; empty as long as they are not known.
 * @param {Sample[]} samples
 * @param {number} left files
 */
export function paceWords(samples, left) {
  const [first, last] = [samples[0], samples.at(-1)];
  if (!first || !last || last.at - first.at < LEAST_PACE_MS || last.done - first.done < 2) return '';
  const aMinute = (last.done - first.done) / ((last.at - first.at) / 60_000);
  const pace = aMinute >= 1 ? `about ${grouped(Math.round(aMinute))} a minute` : `about ${grouped(Math.max(1, Math.round(aMinute * 60)))} an hour`;
  return left > 0 ? `${pace}, ${timeWords(left / aMinute)} left` : pace;
}

/** @param {number} minutes */
function timeWords(minutes) {
  if (minutes < 1) return 'less than a minute';
  if (minutes < 90) return `about ${counted(Math.round(minutes), 'minute')}`;
  const hours = Math.round(minutes / 30) / 2;
  return `about ${hours} hours`;
}

/** A day and the time on it: `5 Nov 2025, 14:20`. @param {string} time UTC, RFC 3339 */
export function whenWords(time) {
  const day = new Date(time);
  if (Number.isNaN(day.getTime())) return time;
  return day.toLocaleString('en-GB', {day: 'numeric', month: 'short', year: 'numeric', hour: '2-digit', minute: '2-digit'});
}

/**
 * Files that can be read, in the order of their names, and how many are none.
 * @template {FileFacts} T
 * @param {T[]} files
 * @returns {{files: T[], leftOut: string[]}}
 */
export function readable(files) {
  const own = files.filter(({name}) => !name.split('/').some((part) => part.startsWith('.') || OF_SYSTEM.has(part)));
  // A file without an ending may be a picture still; the service looks at its bytes.
  const fits = (/** @type {T} */ {name, type}) => ENDINGS.test(name) || /^image\//.test(type ?? '') || !/\.[a-z0-9]{1,5}$/i.test(name);
  return {
    files: own.filter(fits).sort((a, b) => order.compare(a.name, b.name)),
    leftOut: own.filter((file) => !fits(file)).map(({name}) => name),
  };
}

/** The folders of files, as paths; files without one are not counted. @param {FileFacts[]} files */
export function foldersOf(files) {
  const folders = new Set(files.map(({name}) => name.slice(0, Math.max(name.lastIndexOf('/'), 0))));
  folders.delete('');
  return [...folders].sort(order.compare);
}

/**
 * Files as they are sent: some at a time, in their order.
 * @template {FileFacts} T
 * @param {T[]} files
 * @returns {T[][]}
 */
export function groupsOf(files) {
  /** @type {T[][]} */
  const groups = [];
  let bytes = Infinity;
  for (const file of files) {
    const group = groups.at(-1);
    if (group && group.length < MOST_FILES && bytes + file.size <= MOST_BYTES) {
      group.push(file);
      bytes += file.size;
    } else {
      groups.push([file]);
      bytes = file.size;
    }
  }
  return groups;
}

/** @returns {Rule} */
export const usualRule = () => ({way: 'one', card: 'A2', among: ['A2', 'square', 'slimline'], otherwise: '', folders: {}});

/**
 * A rule as it was kept, with only what can still be meant.
 * @param {unknown} kept
 * @param {string[]} cards
 * @returns {Rule}
 */
export function ruleFrom(kept, cards) {
  const usual = usualRule();
  const told = /** @type {Partial<Rule>} */ (typeof kept === 'object' && kept !== null ? kept : {});
  const isCard = (/** @type {unknown} */ one) => typeof one === 'string' && cards.includes(one);
  const among = Array.isArray(told.among) ? told.among.filter(isCard) : [];
  return {
    way: told.way === 'outline' || told.way === 'folders' ? told.way : 'one',
    card: told.card && isCard(told.card) ? told.card : usual.card,
    among: among.length > 0 ? among : usual.among.filter(isCard),
    otherwise: told.otherwise && isCard(told.otherwise) ? told.otherwise : '',
    folders: Object.fromEntries(Object.entries(told.folders ?? {}).filter(([, card]) => isCard(card))),
  };
}

/** What is wrong with a rule; empty if nothing is. @param {Rule} rule */
export const ruleFault = ({way, among}) => (way === 'outline' && among.length === 0 ? 'Tick the cards that the drawings may be for.' : '');

/**
 * The fields of a form that say which card a file is for.
 * @param {Rule} rule
 * @param {string[]} folders
 * @returns {[string, string][]}
 */
export function ruleFields({way, card, among, otherwise, folders: cards}, folders) {
  if (way === 'outline') return [['cards', among.join(',')], ...(otherwise ? [/** @type {[string, string]} */ (['card', otherwise])] : [])];
  const own = way === 'folders' ? folders.map((folder) => /** @type {[string, string]} */ (['folder', `${folder}=${cards[folder] ?? card}`])) : [];
  return [['card', card], ...own];
}

/** A size of files for a person. @param {number} bytes */
export const sizeWords = (bytes) => (bytes < 1_000_000 ? `${Math.max(1, Math.round(bytes / 1000))} kB` : `${(bytes / 1_000_000).toFixed(bytes < 10_000_000 ? 1 : 0)} MB`);
