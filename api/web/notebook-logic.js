// Looking for layouts, choosing several, and comparing versions, as pure
// functions. No DOM, no network, no clock.

import {showLength} from './lengths.js';
import {counted, kindName, sizeText} from './logic.js';

/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Element} Element */
/** @typedef {import('./client.js').Stored} Stored */
/**
 * @typedef {object} Query What is looked for; an empty text asks for nothing.
 * @property {string} text
 * @property {string} card
 * @property {string} tag
 * @property {string[]} shapes
 * @property {string} slots `2`, `4-`…
 * @property {string} piece the shape that `atMost` measures
 * @property {string} atMost
 * @property {string} fits a paper such as `6x6`
 * @property {boolean} favourite
 * @property {string} used `never`, `ever` or `lately`
 * @property {string} order
 */
/** @typedef {{key: keyof Query, value: string, words: string}} Condition */
/** @typedef {{favourite: boolean, uses: number, lastUsed: string | null}} Shelf */
/** @typedef {Stored & {shelf: Shelf}} Shelved */

/** @type {Query} */
export const NO_QUERY = {
  text: '', card: '', tag: '', shapes: [], slots: '', piece: 'any', atMost: '', fits: '',
  favourite: false, used: '', order: 'newest',
};

export const SHAPES = ['panel', 'strip', 'circle', 'oval', 'banner', 'mark'];

/** @type {[string, string][]} */
export const ORDERS = [
  ['newest', 'Newest first'],
  ['changed', 'Changed last'],
  ['title', 'By title'],
  ['most-used', 'Used most'],
  ['last-used', 'Used last'],
  ['forgotten', 'Not used for longest'],
];

/** @type {[string, string][]} */
export const USES = [['', 'Any'], ['ever', 'Used before'], ['never', 'Never used'], ['lately', 'Not in the last three months']];

/** @type {[string, string][]} */
export const PAPERS = [['', 'Any'], ['0', 'None'], ['1', 'One'], ['2', 'Two'], ['3', 'Three'], ['4-', 'Four or more']];

/** A layout not used for so many days was not used lately. */
const LATELY_DAYS = 91;

/**
 * The query as the service understands it.
 * @param {Query} query
 * @param {Date} now
 */
export function paramsOf(query, now) {
  const params = new URLSearchParams();
  /** @param {string} name @param {string} value */
  const set = (name, value) => { if (value.trim() !== '') params.set(name, value.trim()); };
  set('text', query.text);
  set('card', query.card);
  set('tag', query.tag);
  set('shapes', query.shapes.join(','));
  set('slots', query.slots);
  if (query.atMost.trim() !== '') {
    set('piece', query.piece);
    set('at_most', query.atMost);
  }
  set('fits', query.fits);
  if (query.favourite) set('favourite', 'true');
  if (query.used === 'never') set('uses', '0');
  if (query.used === 'ever') set('uses', '1-');
  if (query.used === 'lately') {
    const day = new Date(now.getTime() - LATELY_DAYS * 86_400_000);
    set('unused_since', day.toISOString().slice(0, 10));
  }
  set('order', query.order);
  return params;
}

/**
 * Every condition of a query, in words that can be pressed away.
 * @param {Query} query
 * @returns {Condition[]}
 */
export function conditionsOf(query) {
  /** @type {Condition[]} */
  const conditions = [];
  /** @param {keyof Query} key @param {string} words @param {string} [value] */
  const add = (key, words, value = '') => conditions.push({key, value, words});
  if (query.text.trim()) add('text', `words “${query.text.trim()}”`);
  if (query.card) add('card', `card ${query.card}`);
  if (query.tag) add('tag', `tag “${query.tag}”`);
  for (const shape of query.shapes) add('shapes', `has ${/^[aeiou]/.test(shape) ? 'an' : 'a'} ${shape}`, shape);
  if (query.slots) {
    const [, words] = PAPERS.find(([value]) => value === query.slots) ?? ['', query.slots];
    add('slots', `${words.toLowerCase()} patterned ${query.slots === '1' ? 'paper' : 'papers'}`.replace('none', 'no'));
  }
  if (query.atMost.trim()) add('atMost', `${query.piece === 'any' ? 'a piece' : `a ${query.piece}`} at most ${query.atMost.trim()} wide`);
  if (query.fits.trim()) add('fits', `every piece fits ${query.fits.trim()}`);
  if (query.favourite) add('favourite', 'favourites');
  if (query.used) add('used', (USES.find(([value]) => value === query.used) ?? ['', ''])[1].toLowerCase());
  return conditions;
}

/**
 * The query without one of its conditions.
 * @param {Query} query
 * @param {Condition} condition
 * @returns {Query}
 */
export function without(query, {key, value}) {
  if (key === 'shapes') return {...query, shapes: query.shapes.filter((shape) => shape !== value)};
  return {...query, [key]: NO_QUERY[key]};
}

/** How a layout was used, in words. @param {Shelf} shelf */
export function useWords({uses, lastUsed}) {
  if (uses === 0) return 'Not used yet';
  const times = uses === 1 ? 'Used once' : `Used ${uses} times`;
  return lastUsed ? `${times}, last on ${dayWords(lastUsed)}` : times;
}

/** A time of the notebook as a day: `5 Nov 2025`. @param {string} time UTC, RFC 3339 */
export function dayWords(time) {
  const day = new Date(time);
  if (Number.isNaN(day.getTime())) return time;
  return day.toLocaleDateString('en-GB', {day: 'numeric', month: 'short', year: 'numeric'});
}

/**
 * One more or one fewer among the chosen.
 * @param {ReadonlySet<string>} chosen
 * @param {string} id
 * @param {boolean} on
 */
export function choose(chosen, id, on) {
  const next = new Set(chosen);
  if (on) next.add(id);
  else next.delete(id);
  return next;
}

/**
 * Several layouts as one file, and a name for it.
 * @param {Layout[]} records
 */
export function fileOf(records) {
  const json = records.length === 1 ? records[0] : {layouts: records};
  return {name: records.length === 1 ? `${fileName(records[0].title)}.json` : 'layouts.json', text: `${JSON.stringify(json, null, 2)}\n`};
}

/** A title as a file's name: letters and digits of any script, short. @param {string} title */
export function fileName(title) {
  const words = title.normalize('NFKC').toLowerCase().match(/[\p{L}\p{N}]+/gu) ?? [];
  return words.join('-').slice(0, 40).replace(/-$/, '') || 'layout';
}

/**
 * The records in a file: one, or several under `layouts`.
 * @param {string} text
 * @returns {unknown[]}
 */
export function recordsOf(text) {
  const json = JSON.parse(text);
  return Array.isArray(json?.layouts) ? json.layouts : [json];
}

/**
 * What differs between two versions, in sentences, for who cannot see the drawings.
 * @param {Layout} before
 * @param {Layout} after
 */
export function differences(before, after) {
  /** @type {string[]} */
  const told = [];
  if (before.title !== after.title) told.push(`Title: “${before.title || 'none'}” became “${after.title || 'none'}”.`);
  const cards = [before, after].map(({card, unit}) => `${showLength(card.width, unit)} x ${showLength(card.height, unit)}`);
  if (cards[0] !== cards[1]) told.push(`Card: ${cards[0]} became ${cards[1]}.`);
  for (const element of before.elements) {
    if (!after.elements.some(({id}) => id === element.id)) told.push(`${kindName(element)} ${sizeText(element, before.unit)} is gone.`);
  }
  for (const element of after.elements) {
    const old = before.elements.find(({id}) => id === element.id);
    if (!old) {
      told.push(`${kindName(element)} ${sizeText(element, after.unit)} is new.`);
      continue;
    }
    const [was, is] = [sizeText(old, before.unit), sizeText(element, after.unit)];
    const name = kindName(element);
    if (was !== is) told.push(`${name}: ${was} became ${is}.`);
    else if (old.x !== element.x || old.y !== element.y) told.push(`${name} ${is} moved.`);
    else if (JSON.stringify(old) !== JSON.stringify(element)) told.push(`${name} ${is}: something else about it changed.`);
  }
  const order = (/** @type {Layout} */ layout, /** @type {Layout} */ other) =>
    layout.elements.map(({id}) => id).filter((id) => other.elements.some((one) => one.id === id)).join();
  if (order(before, after) !== order(after, before)) told.push('The order in the stack changed.');
  if (before.notes !== after.notes) told.push('The notes changed.');
  if (before.tags.join() !== after.tags.join()) told.push(`Tags: ${before.tags.join(', ') || 'none'} became ${after.tags.join(', ') || 'none'}.`);
  return told;
}

/** How many are shown of how many, in words. @param {number} total @param {Query} query */
export function totalWords(total, query) {
  return conditionsOf(query).length === 0 ? counted(total, 'layout') : `${counted(total, 'layout')} found`;
}
