// What a person has decided about a layout that was read, and the layout once
// the rest has been worked out again around it. Pure: no page, no service.

import {showLength} from './lengths.js';

/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Element} Element */
/** @typedef {import('./logic.js').Side} Side */
/** @typedef {{element: number, side: Side}} DecidedSize */
/** @typedef {{sizes: DecidedSize[], places: number[]}} Decided what holds while the rest is worked out */
/** @typedef {{record: Layout, decided: Decided}} Settled a layout as it was last worked out, and what held then */

/** @type {Side[]} */
const SIDES = ['width', 'height'];
/** Most elements that are named when others followed. */
const MOST_NAMED = 3;

/**
 * What was decided up to now: what held before, and every size and place that
 * is another since. A doubtful size that is not asked about any more was decided.
 * @param {Layout} record
 * @param {Settled} settled
 * @returns {Decided}
 */
export function decidedIn(record, settled) {
  const there = (/** @type {number} */ id) => record.elements.some((element) => element.id === id);
  const sizes = settled.decided.sizes.filter(({element}) => there(element));
  const places = settled.decided.places.filter(there);
  for (const element of record.elements) {
    const before = settled.record.elements.find(({id}) => id === element.id);
    if (!before) continue;
    const decided = SIDES.filter((side) => element[side] !== before[side] || doubts(before, side) > doubts(element, side));
    for (const side of decided) {
      if (!sizes.some((size) => size.element === element.id && size.side === side)) sizes.push({element: element.id, side});
    }
    // A size that changes may move its element, too: that is no decision on its place.
    const moved = decided.length === 0 && (element.x !== before.x || element.y !== before.y);
    const turned = (element.rotation ?? 0) !== (before.rotation ?? 0) || element.shape !== before.shape;
    if ((moved || turned) && !places.includes(element.id)) places.push(element.id);
  }
  return {sizes, places};
}

/**
 * @param {Element} element
 * @param {Side} side
 */
const doubts = (element, side) => (element.alternatives ?? []).filter((other) => other.side === side).length;

/**
 * The record with the boxes, doubts and reasons of the one that was worked out
 * again, and the ids of the elements whose box is another.
 * @param {Layout} record
 * @param {Layout} again
 * @returns {{record: Layout, followed: number[]}}
 */
export function followedBy(record, again) {
  /** @type {number[]} */
  const followed = [];
  const elements = record.elements.map((element) => {
    const other = again.elements.find(({id}) => id === element.id);
    if (!other) return element;
    const {x, y, width, height, alternatives} = other;
    const same = x === element.x && y === element.y && width === element.width && height === element.height;
    if (!same) followed.push(element.id);
    return {...element, x, y, width, height, alternatives: alternatives ?? []};
  });
  const capture = record.capture && again.capture ? {...record.capture, measured: again.capture.measured} : record.capture;
  return {record: {...record, elements, ...(capture && {capture})}, followed};
}

/**
 * What followed, in a sentence; empty when nothing did.
 * @param {Layout} record
 * @param {number[]} followed
 */
export function followedWords(record, followed) {
  if (followed.length === 0) return '';
  const named = record.elements.flatMap((element, i) => {
    const size = SIDES.map((side) => showLength(element[side], record.unit)).join(' x ');
    return followed.includes(element.id) ? [`${i + 1} is ${size}`] : [];
  });
  const more = named.length - MOST_NAMED;
  const list = [...named.slice(0, MOST_NAMED), ...(more > 0 ? [`${more} more`] : [])];
  const words = list.length > 1 ? `${list.slice(0, -1).join(', ')} and ${list.at(-1)}` : list[0];
  return `Worked out again with that size: ${words}. Undo takes this back.`;
}
