// The eight handles round a chosen element: what pulling one does. Pure; no
// DOM. The opposite side or corner stays where it is, turned or not; sizes
// land on their grid.

import {placed, sized} from './arrange.js';
import {edgeRest} from './snapping.js';

/** @typedef {import('./arrange.js').Box} Box */
/** @typedef {import('./logic.js').Element} Element */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Point} Point */
/** @typedef {{name: string, sx: -1 | 0 | 1, sy: -1 | 0 | 1}} Handle */

/** Clockwise from the top-left. @type {Handle[]} */
export const HANDLES = [
  {name: 'top-left corner', sx: -1, sy: -1}, {name: 'top side', sx: 0, sy: -1},
  {name: 'top-right corner', sx: 1, sy: -1}, {name: 'right side', sx: 1, sy: 0},
  {name: 'bottom-right corner', sx: 1, sy: 1}, {name: 'bottom side', sx: 0, sy: 1},
  {name: 'bottom-left corner', sx: -1, sy: 1}, {name: 'left side', sx: -1, sy: 0},
];

/**
 * Where a handle is on the card.
 * @param {Element} element
 * @param {{sx: number, sy: number}} handle
 * @returns {Point}
 */
export function handlePlace(element, {sx, sy}) {
  const {x, y, width, height} = element;
  return turned([(sx * width) / 2, (sy * height) / 2], element.rotation ?? 0, [x + width / 2, y + height / 2]);
}

/**
 * An element with one handle pulled.
 * @param {Layout} record
 * @param {Element} element as it was when the pull began
 * @param {{sx: number, sy: number}} handle
 * @param {Point} by in the record's unit
 * @param {{others?: import('./snapping.js').Other[], reach?: number}} [snap]
 * @returns {Element}
 */
export function pulled(record, element, {sx, sy}, [dx, dy], {others = [], reach = 0} = {}) {
  const {unit, card} = record;
  const rotation = element.rotation ?? 0;
  const [along, across] = turned([dx, dy], -rotation, [0, 0]);
  const rest = (/** @type {'x' | 'y'} */ axis, /** @type {number} */ at) =>
    (rotation === 0 && reach > 0 ? edgeRest(axis, at, others, card, unit, reach) : at);
  const edgeX = rest('x', (sx > 0 ? element.x + element.width : element.x) + along);
  const edgeY = rest('y', (sy > 0 ? element.y + element.height : element.y) + across);
  let width = sx === 0 ? element.width : sized(sx > 0 ? edgeX - element.x : element.x + element.width - edgeX, unit);
  let height = sy === 0 ? element.height : sized(sy > 0 ? edgeY - element.y : element.y + element.height - edgeY, unit);
  if (element.shape === 'circle') width = height = sx === 0 ? height : sy === 0 ? width : Math.max(width, height);
  const shift = turned([(sx * (width - element.width)) / 2, (sy * (height - element.height)) / 2], rotation, [0, 0]);
  const [cx, cy] = [element.x + element.width / 2 + shift[0], element.y + element.height / 2 + shift[1]];
  const changed = {...element, width, height, x: placed(cx - width / 2, unit), y: placed(cy - height / 2, unit)};
  const most = Math.min(width, height) / 2;
  if ((changed.corner_radius ?? 0) > most) changed.corner_radius = most;
  if (element.alternatives) {
    changed.alternatives = element.alternatives.filter(({side}) => changed[side] === element[side]);
  }
  return changed;
}

/**
 * An element with its corners rounded further or less, by a pull towards its
 * middle or away from it.
 * @param {Layout} record
 * @param {Element} element
 * @param {Point} by in the record's unit
 * @returns {Element}
 */
export function roundedBy({unit}, element, by) {
  const [along, across] = turned(by, -(element.rotation ?? 0), [0, 0]);
  const radius = placed((element.corner_radius ?? 0) + (along + across) / 2, unit);
  return {...element, corner_radius: Math.min(Math.max(radius, 0), Math.min(element.width, element.height) / 2)};
}

/**
 * @param {Point} point
 * @param {number} degrees clockwise on the screen
 * @param {Point} middle
 * @returns {Point}
 */
function turned([x, y], degrees, [mx, my]) {
  if (degrees === 0) return [mx + x, my + y];
  const angle = (degrees * Math.PI) / 180;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  return [mx + x * cos - y * sin, my + x * sin + y * cos];
}
