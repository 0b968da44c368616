// Where a moved or resized box comes to rest, and what it then lines up with:
// edges and middles of the card and of other elements, equal margins, and the
// usual 1/8 and 1/4 round another element. Pure; no DOM. Everything a line can
// hold on to lies on the grid of positions, and so does what rests on it.

import {showLength, stepOf} from './lengths.js';

/** @typedef {import('./arrange.js').Box} Box */
/** @typedef {import('./lengths.js').Unit} Unit */
/** @typedef {{width: number, height: number}} Card */
/** @typedef {{box: Box, name: string}} Other */
/**
 * @typedef {object} SnapLine A line drawn while it holds.
 * @property {'x' | 'y'} axis the coordinate that is held: `x` is an upright line
 * @property {number} at
 * @property {number} from where the line begins along the other axis
 * @property {number} to
 * @property {string} words what it lines up with
 */
/** @typedef {{axis: 'x' | 'y', at: number, words: string, worth: number, from: number, to: number}} Hold */

/** Margins makers leave: 1/8 and 1/4 in, 3 and 6 mm. @type {Record<Unit, number[]>} */
const USUAL_MARGINS = {in: [1 / 8, 1 / 4], mm: [3, 6]};
/** Most lines shown at once on one axis: more is a fence. */
const MOST_LINES = 2;
const EXACT = 1e-6;

/**
 * Everything on one axis that an edge or a middle may rest on.
 * @param {'x' | 'y'} axis
 * @param {Other[]} others
 * @param {Card} card
 * @param {Unit} unit
 * @returns {{edges: Hold[], middles: Hold[]}}
 */
export function holdsOf(axis, others, card, unit) {
  const side = axis === 'x' ? 'width' : 'height';
  const [cross, crossSide] = axis === 'x' ? /** @type {const} */ (['y', 'height']) : /** @type {const} */ (['x', 'width']);
  const [first, last] = axis === 'x' ? ['left', 'right'] : ['top', 'bottom'];
  const whole = {from: 0, to: card[crossSide]};
  const middle = axis === 'x' ? 'centre' : 'middle';
  /** @type {Hold[]} */
  const edges = [
    {axis, at: 0, words: `the card's ${first} edge`, worth: 3, ...whole},
    {axis, at: card[side], words: `the card's ${last} edge`, worth: 3, ...whole},
    {axis, at: card[side] / 2, words: `the card's ${middle}`, worth: 2, ...whole},
    ...USUAL_MARGINS[unit].flatMap((margin) => [
      {axis, at: margin, words: `${showLength(margin, unit)} from the ${first} edge`, worth: 1, ...whole},
      {axis, at: card[side] - margin, words: `${showLength(margin, unit)} from the ${last} edge`, worth: 1, ...whole},
    ]),
  ];
  /** @type {Hold[]} */
  const middles = [{axis, at: card[side] / 2, words: `the card's ${middle}`, worth: 4, ...whole}];
  for (const {box, name} of others) {
    const [start, end] = [box[axis], box[axis] + box[side]];
    const span = {from: box[cross], to: box[cross] + box[crossSide]};
    edges.push(
      {axis, at: start, words: `the ${first} of ${name}`, worth: 2, ...span},
      {axis, at: end, words: `the ${last} of ${name}`, worth: 2, ...span},
    );
    for (const margin of USUAL_MARGINS[unit]) {
      const words = `${showLength(margin, unit)} from ${name}`;
      for (const at of [start - margin, start + margin, end - margin, end + margin]) {
        edges.push({axis, at, words, worth: 0, ...span});
      }
    }
    middles.push({axis, at: (start + end) / 2, words: `the ${middle} of ${name}`, worth: 2, ...span});
  }
  return {edges, middles};
}

/**
 * Where a moved box comes to rest.
 * @param {Box} box where the hand has it
 * @param {Other[]} others
 * @param {Card} card
 * @param {Unit} unit
 * @param {number} reach how far a line pulls, in the record's unit; 0 for none
 * @returns {{dx: number, dy: number}}
 */
export function restOf(box, others, card, unit, reach) {
  const [dx, dy] = /** @type {const} */ (['x', 'y']).map((axis) => {
    const side = axis === 'x' ? 'width' : 'height';
    const {edges, middles} = holdsOf(axis, others, card, unit);
    const [start, size] = [box[axis], box[side]];
    const pulls = [
      ...edges.flatMap(({at, worth}) => [{by: at - start, worth}, {by: at - start - size, worth}]),
      ...middles.map(({at, worth}) => ({by: at - start - size / 2, worth})),
    ];
    return pullOf(pulls, start, unit, reach);
  });
  return {dx, dy};
}

/**
 * Where a dragged edge comes to rest.
 * @param {'x' | 'y'} axis
 * @param {number} at
 * @param {Other[]} others
 * @param {Card} card
 * @param {Unit} unit
 * @param {number} reach
 */
export function edgeRest(axis, at, others, card, unit, reach) {
  const {edges} = holdsOf(axis, others, card, unit);
  return at + pullOf(edges.map((hold) => ({by: hold.at - at, worth: hold.worth})), at, unit, reach);
}

/**
 * The nearest hold on the grid, the worthier of two as near; without one, the grid.
 * @param {{by: number, worth: number}[]} pulls
 * @param {number} start
 * @param {Unit} unit
 * @param {number} reach
 */
function pullOf(pulls, start, unit, reach) {
  const step = stepOf(unit, 'position');
  const onGrid = (/** @type {number} */ value) => Math.abs(value / step - Math.round(value / step)) < EXACT;
  const [best] = pulls.filter(({by}) => Math.abs(by) <= reach && onGrid(start + by))
    .sort((a, b) => Math.abs(a.by) - a.worth * step / 8 - (Math.abs(b.by) - b.worth * step / 8));
  return best ? best.by : Math.round(start / step) * step - start;
}

/**
 * The lines that a box at rest lies on, worthiest first.
 * @param {Box} box
 * @param {Other[]} others
 * @param {Card} card
 * @param {Unit} unit
 * @returns {SnapLine[]}
 */
export function linesOf(box, others, card, unit) {
  return /** @type {const} */ (['x', 'y']).flatMap((axis) => {
    const side = axis === 'x' ? 'width' : 'height';
    const [cross, crossSide] = axis === 'x' ? /** @type {const} */ (['y', 'height']) : /** @type {const} */ (['x', 'width']);
    const {edges, middles} = holdsOf(axis, others, card, unit);
    const ends = [box[axis], box[axis] + box[side]];
    const same = (/** @type {number} */ a, /** @type {number} */ b) => Math.abs(a - b) < EXACT;
    const held = [
      ...middles.filter(({at}) => same(at, box[axis] + box[side] / 2)),
      ...edges.filter(({at}) => ends.some((end) => same(at, end))),
    ].sort((a, b) => b.worth - a.worth);
    const apart = held.filter((hold, i) => held.findIndex((other) => same(other.at, hold.at)) === i);
    return apart.slice(0, MOST_LINES).map(({at, words, from, to}) => ({
      axis, at, words,
      from: Math.min(from, box[cross]),
      to: Math.max(to, box[cross] + box[crossSide]),
    }));
  });
}
