// A second reading of a photo, and what the person had already put right. Both
// are laid on the photo: an element read anew is the one of before when their
// boxes overlap there (intersection over union, Jaccard 1901). What the person
// changed wins, what they added stays, what they deleted stays away. Pure; no DOM.

import {bounds, outlineOnPhoto} from './geometry.js';

/** @typedef {import('./logic.js').Draft} Draft */
/** @typedef {import('./logic.js').Element} Element */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Point} Point */

/** Two boxes that overlap by this share are the same shape, read a little differently. */
const SAME = 0.4;
/** The same for whole cards, whose corners may have been off by more. */
const SAME_CARD = 0.3;
/** What a person can set of an element, beside its place and size. */
const WORDS = /** @type {const} */ (['role', 'slot', 'mats', 'raised']);
const GEOMETRY = /** @type {const} */ (['shape', 'kind', 'ends', 'corner_radius', 'rotation', 'x', 'y', 'width', 'height']);

/**
 * The share of two boxes that is in both: 0 apart, 1 the same.
 * @param {number[]} a left, top, right, bottom
 * @param {number[]} b
 */
export function overlapShare(a, b) {
  const wide = Math.min(a[2], b[2]) - Math.max(a[0], b[0]);
  const high = Math.min(a[3], b[3]) - Math.max(a[1], b[1]);
  if (wide <= 0 || high <= 0) return 0;
  const area = (/** @type {number[]} */ box) => (box[2] - box[0]) * (box[3] - box[1]);
  return (wide * high) / (area(a) + area(b) - wide * high);
}

/**
 * @param {Layout} record
 * @param {Element} element
 */
function boxOnPhoto(record, element) {
  const outline = outlineOnPhoto(record, element);
  if (outline.length >= 3) return bounds(outline);
  return [element.x, element.y, element.x + element.width, element.y + element.height];
}

/**
 * Pairs elements of two records that overlap on the photo, best pairs first,
 * each element once.
 * @param {Layout} a
 * @param {Layout} b
 * @returns {Map<number, number>} ids of `a` to ids of `b`
 */
export function pairsOf(a, b) {
  const boxes = b.elements.map((element) => boxOnPhoto(b, element));
  const rivals = a.elements.flatMap((element) => {
    const box = boxOnPhoto(a, element);
    return b.elements.map((other, i) => ({
      from: element.id, to: other.id,
      share: overlapShare(box, boxes[i]) * (element.shape === other.shape ? 1 : 0.9),
    }));
  }).filter(({share}) => share >= SAME).sort((one, other) => other.share - one.share);
  /** @type {Map<number, number>} */
  const pairs = new Map();
  const taken = new Set();
  for (const {from, to} of rivals) {
    if (pairs.has(from) || taken.has(to)) continue;
    pairs.set(from, to);
    taken.add(to);
  }
  return pairs;
}

/**
 * @param {Element} a
 * @param {Element} b
 */
const sameNumbers = (a, b) => [...GEOMETRY, ...WORDS].every((key) => JSON.stringify(a[key] ?? null) === JSON.stringify(b[key] ?? null));

/**
 * Which elements of a record the person changed or added, and which of the
 * reading's they deleted. Without the reading to compare with, all count as theirs.
 * @param {Layout} record
 * @param {Layout | null} read the record as the reading gave it
 * @returns {{theirs: Element[], deleted: Element[]}}
 */
export function correctionsOf(record, read) {
  if (!read) return {theirs: record.elements, deleted: []};
  const theirs = record.elements.filter((element) => {
    const before = read.elements.find(({id}) => id === element.id);
    return !before || !sameNumbers(element, before);
  });
  const deleted = read.elements.filter(({id}) => !record.elements.some((element) => element.id === id));
  return {theirs, deleted};
}

/**
 * The new reading with everything the person had put right put right again.
 * For another card the sizes are the new reading's; what else they said stays.
 * @param {Layout} record as the person left it
 * @param {Layout | null} read as it was read
 * @param {Layout} again as it was read anew
 * @returns {{record: Layout, kept: number}} with how many corrections were kept
 */
export function mergedReading(record, read, again) {
  const {theirs, deleted} = correctionsOf(record, read);
  const sameCard = record.unit === again.unit && record.card.width === again.card.width && record.card.height === again.card.height;
  const gone = new Set(read ? [...pairsOf({...read, elements: deleted}, again).values()] : []);
  const pairs = pairsOf({...record, elements: theirs}, again);
  const mineOf = new Map([...pairs].map(([mine, other]) => [other, mine]));
  const elements = again.elements.filter(({id}) => !gone.has(id) || mineOf.has(id)).map((element) => {
    const mine = theirs.find(({id}) => id === mineOf.get(element.id));
    return mine ? corrected(element, mine, sameCard) : element;
  });
  let next = Math.max(0, ...again.elements.map(({id}) => id)) + 1;
  const added = sameCard ? theirs.filter(({id}) => !pairs.has(id)).map((element) => ({...element, id: next++})) : [];
  return {
    record: {...again, title: record.title || again.title, notes: record.notes, tags: record.tags, elements: [...elements, ...added]},
    kept: pairs.size + added.length + gone.size,
  };
}

/**
 * @param {Element} element as read anew
 * @param {Element} mine
 * @param {boolean} sameCard
 * @returns {Element}
 */
function corrected(element, mine, sameCard) {
  const keys = sameCard ? [...GEOMETRY, ...WORDS] : WORDS;
  const said = Object.fromEntries(keys.filter((key) => key in mine).map((key) => [key, mine[key]]));
  if (!sameCard) return {...element, ...said};
  const {alternatives: _, ...rest} = element;
  // A mark has a kind, a banner ends: none of them stays behind on another shape.
  for (const key of /** @type {const} */ (['kind', 'ends', 'corner_radius'])) if (!(key in mine)) delete rest[key];
  const open = mine.alternatives ? {alternatives: mine.alternatives} : {};
  return /** @type {Element} */ ({...rest, ...open, ...said, confidence: mine.confidence});
}

/**
 * Which draft each layout of a new reading continues: the one whose card lies
 * where it does on the photo.
 * @param {Draft[]} drafts
 * @param {Layout[]} layouts
 * @returns {(number | null)[]} an index of `drafts` for each layout
 */
export function continued(drafts, layouts) {
  const taken = new Set();
  return layouts.map((layout) => {
    const corners = layout.capture?.card_corners_px ?? [];
    const best = drafts
      .map(({record}, i) => {
        const before = record.capture?.card_corners_px ?? [];
        const both = corners.length === 4 && before.length === 4;
        return {i, share: both ? overlapShare(bounds(corners), bounds(before)) : 0};
      })
      .filter(({i, share}) => share >= SAME_CARD && !taken.has(i))
      .sort((a, b) => b.share - a.share)[0];
    if (!best) return null;
    taken.add(best.i);
    return best.i;
  });
}
