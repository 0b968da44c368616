// A layout carried over to a card of another size, by rule: narrow margins are
// kept, what was centred stays centred, the rest is scaled, and everything
// lands on the grid again. Pure; no DOM. A margin is measured to the card or,
// for a layer that lies just inside another element, to that element, so that
// mats keep their borders.

import {placed, sized} from './arrange.js';
import {convert} from './lengths.js';

/** @typedef {import('./client.js').Card} Card */
/** @typedef {import('./logic.js').Element} Element */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Side} Side */
/** @typedef {{start: number, size: number}} Span */

/** A margin up to this much is a border the maker chose, in inches; wider ones are room. */
const BORDER_IN = 1 / 2;
/** An element whose borders inside another are at most this belongs to it, in inches. */
const LAYER_IN = 3 / 8;
/** Lengths nearer than this are the same. */
const EXACT = 1e-6;

/**
 * @param {Layout} record
 * @param {Card} card
 * @param {boolean} turned whether the card's two sides change places
 * @returns {Layout} unsaved, without the photo it was read from
 */
export function carriedTo(record, card, turned = false) {
  return carriedOver(inUnit(record, card.unit), card, turned);
}

/**
 * @param {Layout} record in the card's own unit
 * @param {Card} card
 * @param {boolean} turned
 * @returns {Layout}
 */
function carriedOver(record, {name, width, height, unit}, turned) {
  const [wide, high] = turned ? [height, width] : [width, height];
  const fold = wide > high ? 'top' : 'left';
  const to = {name, width: wide, height: high, fold};
  /** @type {Map<number, Element>} */
  const done = new Map();
  const layer = convert(LAYER_IN, 'in', unit);
  record.elements.forEach((element, i) => {
    const home = [...record.elements.slice(0, i)].reverse().find((other) => isLayerOf(element, other, layer));
    const now = home ? done.get(home.id) : undefined;
    const whole = /** @type {const} */ (['width', 'height']).map((side) => ({
      before: {start: 0, size: record.card[side]}, after: {start: 0, size: to[side]},
    }));
    const inside = home && now
      ? /** @type {const} */ (['width', 'height']).map((side) => ({before: spanOf(home, side), after: spanOf(now, side)}))
      : whole;
    done.set(element.id, carried(element, inside, whole, unit));
  });
  const {capture: _, ...rest} = record;
  return {...rest, card: to, elements: record.elements.flatMap(({id}) => done.get(id) ?? [])};
}

/**
 * The same lengths in another unit, on no grid yet.
 * @param {Layout} record
 * @param {import('./lengths.js').Unit} unit
 * @returns {Layout}
 */
function inUnit(record, unit) {
  if (record.unit === unit) return record;
  const to = (/** @type {number} */ value) => convert(value, record.unit, unit);
  return {
    ...record,
    unit,
    card: {...record.card, width: to(record.card.width), height: to(record.card.height)},
    elements: record.elements.map((element) => ({
      ...element,
      x: to(element.x), y: to(element.y), width: to(element.width), height: to(element.height),
      corner_radius: placed(to(element.corner_radius ?? 0), unit),
      mats: (element.mats ?? []).map((mat) => sized(to(mat), unit)),
    })),
  };
}

/**
 * @param {Element} element
 * @param {Side} side
 * @returns {Span}
 */
const spanOf = (element, side) => ({start: side === 'width' ? element.x : element.y, size: element[side]});

/**
 * Whether an element is a layer just inside another, as a mat's panel is.
 * @param {Element} element
 * @param {Element} other
 * @param {number} most
 */
function isLayerOf(element, other, most) {
  if (element.shape !== 'rectangle' || other.shape !== 'rectangle') return false;
  if (element.rotation || other.rotation) return false;
  return /** @type {const} */ (['width', 'height']).every((side) => {
    const [inner, outer] = [spanOf(element, side), spanOf(other, side)];
    const before = inner.start - outer.start;
    const after = outer.size - inner.size - before;
    return before >= 0 && after >= 0 && before <= most && after <= most;
  });
}

/**
 * @param {Element} element
 * @param {{before: Span, after: Span}[]} inside what its borders are kept to
 * @param {{before: Span, after: Span}[]} whole the two cards
 * @param {import('./lengths.js').Unit} unit
 * @returns {Element}
 */
function carried(element, inside, whole, unit) {
  const {alternatives: _, outline_px: __, ...rest} = element;
  const fixed = element.shape === 'mark';
  let [across, down] = /** @type {const} */ (['width', 'height']).map((side, i) =>
    carriedSpan(spanOf(element, side), inside[i], unit, fixed, !element.rotation));
  if (element.shape === 'circle' || (element.width === element.height && element.shape === 'rectangle')) {
    // One size for both sides: as much as the tighter side has room for.
    const size = fixed ? sized(element.width, unit) : Math.min(across.size, down.size);
    [across, down] = [0, 1].map((i) => {
      const was = spanOf(element, i === 0 ? 'width' : 'height');
      return resized(was, size, inside[i], unit);
    });
  } else if (element.rotation) {
    // A turned element keeps its proportions: scaled by the tighter side of the card.
    const factor = Math.min(...whole.map(({before, after}) => after.size / before.size));
    [across, down] = /** @type {const} */ (['width', 'height']).map((side, i) => {
      const was = spanOf(element, side);
      return resized(was, sized(was.size * factor, unit), whole[i], unit);
    });
  }
  /** @type {Element} */
  const moved = {...rest, confidence: 1, x: across.start, y: down.start, width: across.size, height: down.size};
  const most = Math.min(moved.width, moved.height) / 2;
  if ((moved.corner_radius ?? 0) > most) moved.corner_radius = most;
  return moved;
}

/**
 * One side of an element carried from one stretch to another.
 * @param {Span} was
 * @param {{before: Span, after: Span}} stretch
 * @param {import('./lengths.js').Unit} unit
 * @param {boolean} fixed whether its size stays
 * @param {boolean} stretches whether it may grow between two kept borders
 * @returns {Span}
 */
function carriedSpan(was, {before, after}, unit, fixed, stretches) {
  const border = convert(BORDER_IN, 'in', unit);
  const factor = after.size / before.size;
  const first = was.start - before.start;
  const last = before.size - was.size - first;
  const between = after.size - first - last;
  const keeps = stretches && !fixed && first <= border && last <= border && between > 0;
  const size = sized(keeps ? between : was.size * (fixed ? 1 : factor), unit);
  return resized(was, size, {before, after}, unit);
}

/**
 * Places a side of known size: centred if it was, at a kept border if it had
 * one, else with its middle at the same share of the stretch.
 * @param {Span} was
 * @param {number} size on the grid
 * @param {{before: Span, after: Span}} stretch
 * @param {import('./lengths.js').Unit} unit
 * @returns {Span}
 */
function resized(was, size, {before, after}, unit) {
  const border = convert(BORDER_IN, 'in', unit);
  const first = was.start - before.start;
  const last = before.size - was.size - first;
  if (Math.abs(first - last) < EXACT) return {start: after.start + (after.size - size) / 2, size};
  if (first <= border && first <= last) return {start: after.start + placed(first, unit), size};
  if (last <= border) return {start: after.start + after.size - placed(last, unit) - size, size};
  const middle = ((first + was.size / 2) * after.size) / before.size;
  return {start: placed(after.start + middle - size / 2, unit), size};
}
