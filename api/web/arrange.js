// Putting elements in order: align, spread, centre, even margins, stack, turn.
// Pure; no DOM. Each function takes elements of one record, bottom of the
// stack first, and gives them back with only the chosen ones changed. Places
// come out on the grid; where an even split would miss it, the rest goes to
// the right and the bottom.

import {stepOf} from './lengths.js';

/** @typedef {import('./logic.js').Element} Element */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Side} Side */
/** @typedef {{x: number, y: number, width: number, height: number}} Box */
/** @typedef {'left' | 'centre' | 'right' | 'top' | 'middle' | 'bottom'} Line */
/** @typedef {'up' | 'down' | 'top' | 'bottom'} Level */
/** @typedef {'across' | 'down'} Way */

/** Degrees from the level at which a turned rectangle's box is no longer its own. */
const LEVEL_DEG = 1e-9;

/**
 * The upright box round an element as it lies, turned or not.
 * @param {Element} element
 * @returns {Box}
 */
export function boxOf(element) {
  const {x, y, width, height} = element;
  const turn = Math.abs(element.rotation ?? 0);
  if (turn < LEVEL_DEG || element.shape === 'circle') return {x, y, width, height};
  const angle = (turn * Math.PI) / 180;
  // A quarter turn is exact.
  const [cos, sin] = turn % 90 === 0 ? [turn % 180 === 0 ? 1 : 0, turn % 180 === 0 ? 0 : 1] : [Math.abs(Math.cos(angle)), Math.abs(Math.sin(angle))];
  const oval = element.shape === 'oval';
  const wide = oval ? Math.hypot(width * cos, height * sin) : width * cos + height * sin;
  const high = oval ? Math.hypot(width * sin, height * cos) : width * sin + height * cos;
  return {x: x + (width - wide) / 2, y: y + (height - high) / 2, width: wide, height: high};
}

/**
 * The box round several boxes.
 * @param {Box[]} boxes
 * @returns {Box}
 */
export function around(boxes) {
  const x = Math.min(...boxes.map((box) => box.x));
  const y = Math.min(...boxes.map((box) => box.y));
  const right = Math.max(...boxes.map((box) => box.x + box.width));
  const bottom = Math.max(...boxes.map((box) => box.y + box.height));
  return {x, y, width: right - x, height: bottom - y};
}

/**
 * To the nearest place on the grid.
 * @param {number} value
 * @param {import('./lengths.js').Unit} unit
 */
export const placed = (value, unit) => Math.round(value / stepOf(unit, 'position')) * stepOf(unit, 'position');

/**
 * To the nearest size on the grid, never nothing.
 * @param {number} value
 * @param {import('./lengths.js').Unit} unit
 */
export function sized(value, unit) {
  const step = stepOf(unit, 'size');
  return Math.max(step, Math.round(value / step) * step);
}

/**
 * @param {Layout} record
 * @param {number[]} ids
 */
const chosenOf = (record, ids) => record.elements.filter(({id}) => ids.includes(id));

/**
 * Moves each chosen element by what `by` says for it.
 * @param {Layout} record
 * @param {number[]} ids
 * @param {(element: Element) => {dx?: number, dy?: number}} by
 * @returns {Layout}
 */
function shifted(record, ids, by) {
  return {
    ...record,
    elements: record.elements.map((element) => {
      if (!ids.includes(element.id)) return element;
      const {dx = 0, dy = 0} = by(element);
      const [x, y] = [placed(element.x + dx, record.unit), placed(element.y + dy, record.unit)];
      return x === element.x && y === element.y ? element : {...element, x, y};
    }),
  };
}

/**
 * @param {Layout} record
 * @param {number[]} ids
 * @param {number} dx
 * @param {number} dy
 */
export const move = (record, ids, dx, dy) => shifted(record, ids, () => ({dx, dy}));

/**
 * Brings one line of each chosen element onto that line of them all; of one
 * element alone, onto that line of the card.
 * @param {Layout} record
 * @param {number[]} ids
 * @param {Line} line
 */
export function align(record, ids, line) {
  const boxes = chosenOf(record, ids).map(boxOf);
  if (boxes.length === 0) return record;
  const to = boxes.length === 1 ? {x: 0, y: 0, ...record.card} : around(boxes);
  const share = {left: 0, centre: 0.5, right: 1, top: 0, middle: 0.5, bottom: 1}[line];
  const across = line === 'left' || line === 'centre' || line === 'right';
  return shifted(record, ids, (element) => {
    const box = boxOf(element);
    return across
      ? {dx: to.x + to.width * share - (box.x + box.width * share)}
      : {dy: to.y + to.height * share - (box.y + box.height * share)};
  });
}

/**
 * Equal gaps between the chosen elements; the two outermost stay.
 * @param {Layout} record
 * @param {number[]} ids
 * @param {Way} way
 */
export function distribute(record, ids, way) {
  const [start, side] = sidesOf(way);
  const row = chosenOf(record, ids).map((element) => ({id: element.id, box: boxOf(element)}))
    .sort((a, b) => a.box[start] - b.box[start] || a.id - b.id);
  if (row.length < 3) return record;
  const whole = around(row.map(({box}) => box));
  const gap = (whole[side] - row.reduce((sum, {box}) => sum + box[side], 0)) / (row.length - 1);
  return inARow(record, ids, row, start, side, whole[start], gap);
}

/**
 * The chosen elements in a row with the same gap between them and to the two
 * edges of the card.
 * @param {Layout} record
 * @param {number[]} ids
 * @param {Way} way
 */
export function equalMargins(record, ids, way) {
  const [start, side] = sidesOf(way);
  const row = chosenOf(record, ids).map((element) => ({id: element.id, box: boxOf(element)}))
    .sort((a, b) => a.box[start] - b.box[start] || a.id - b.id);
  if (row.length === 0) return record;
  const gap = (record.card[side] - row.reduce((sum, {box}) => sum + box[side], 0)) / (row.length + 1);
  return inARow(record, ids, row, start, side, gap, gap);
}

/**
 * @param {Layout} record
 * @param {number[]} ids
 * @param {{id: number, box: Box}[]} row
 * @param {'x' | 'y'} start
 * @param {Side} side
 * @param {number} from
 * @param {number} gap
 */
function inARow(record, ids, row, start, side, from, gap) {
  /** @type {Map<number, number>} */
  const by = new Map();
  let at = from;
  for (const {id, box} of row) {
    by.set(id, at - box[start]);
    at += box[side] + gap;
  }
  return shifted(record, ids, ({id}) => (start === 'x' ? {dx: by.get(id)} : {dy: by.get(id)}));
}

/**
 * @param {Way} way
 * @returns {['x' | 'y', Side]}
 */
const sidesOf = (way) => (way === 'across' ? ['x', 'width'] : ['y', 'height']);

/**
 * Puts the chosen elements, as one, in the middle of the card.
 * @param {Layout} record
 * @param {number[]} ids
 * @param {Way} way
 */
export function centre(record, ids, way) {
  const boxes = chosenOf(record, ids).map(boxOf);
  if (boxes.length === 0) return record;
  const [start, side] = sidesOf(way);
  const whole = around(boxes);
  const by = placed((record.card[side] - whole[side]) / 2 - whole[start], record.unit);
  return way === 'across' ? move(record, ids, by, 0) : move(record, ids, 0, by);
}

/**
 * Higher or lower in the stack; several keep their order among themselves.
 * @param {Layout} record
 * @param {number[]} ids
 * @param {Level} to
 * @returns {Layout}
 */
export function restack(record, ids, to) {
  const {elements} = record;
  const held = (/** @type {Element} */ {id}) => ids.includes(id);
  if (to === 'top') return {...record, elements: [...elements.filter((one) => !held(one)), ...elements.filter(held)]};
  if (to === 'bottom') return {...record, elements: [...elements.filter(held), ...elements.filter((one) => !held(one))]};
  const row = to === 'up' ? [...elements].reverse() : [...elements];
  // From the end they move towards, each passes one neighbour that stays.
  for (let i = 1; i < row.length; i += 1) {
    if (held(row[i]) && !held(row[i - 1])) [row[i - 1], row[i]] = [row[i], row[i - 1]];
  }
  return {...record, elements: to === 'up' ? row.reverse() : row};
}

/**
 * Copies of the chosen elements, a little right and down, on top of the stack.
 * @param {Layout} record
 * @param {number[]} ids
 * @param {number} first id of the first copy
 * @returns {{record: Layout, ids: number[]}}
 */
export function duplicate(record, ids, first) {
  const off = record.unit === 'in' ? 1 / 4 : 6;
  const copies = chosenOf(record, ids).map((element, i) => byHand({
    ...element, id: first + i, x: element.x + off, y: element.y + off, outline_px: [],
  }));
  return {record: {...record, elements: [...record.elements, ...copies]}, ids: copies.map(({id}) => id)};
}

/**
 * An element that a person has vouched for: nothing about it is in doubt.
 * @param {Element} element
 * @returns {Element}
 */
export function byHand(element) {
  const {alternatives: _, ...rest} = element;
  return {...rest, confidence: 1};
}

/**
 * Degrees in the record's own range: over -180, at most 180.
 * @param {number} degrees
 */
export function tidyTurn(degrees) {
  const turn = ((degrees % 360) + 360) % 360;
  return turn > 180 ? turn - 360 : turn;
}
