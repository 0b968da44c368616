import assert from 'node:assert/strict';
import {test} from 'node:test';

import * as arrange from '../../../api/web/arrange.js';
import {element, getWell} from './samples.js';

/** @typedef {import('../../../api/web/logic.js').Layout} Layout */

/** Three small panels of different widths on an A2 card. */
const three = () => getWell({
  elements: [
    element({id: 1, x: 0.5, y: 1, width: 0.5, height: 1}),
    element({id: 2, x: 1.25, y: 2, width: 1, height: 0.5}),
    element({id: 3, x: 3.25, y: 1.5, width: 0.5, height: 0.5}),
  ],
});
/** @param {Layout} record @param {'x' | 'y'} axis */
const places = (record, axis) => record.elements.map((one) => one[axis]);

test('several elements line up with the outermost of them, one alone with the card', () => {
  const ids = [1, 2, 3];
  assert.deepEqual(places(arrange.align(three(), ids, 'left'), 'x'), [0.5, 0.5, 0.5]);
  assert.deepEqual(places(arrange.align(three(), ids, 'right'), 'x'), [3.25, 2.75, 3.25]);
  assert.deepEqual(places(arrange.align(three(), ids, 'top'), 'y'), [1, 1, 1]);
  assert.deepEqual(places(arrange.align(three(), ids, 'middle'), 'y'), [1.25, 1.5, 1.5]);
  assert.equal(arrange.align(three(), [2], 'right').elements[1].x, 3.25);
});

test('equal gaps leave the outermost two where they are', () => {
  const spread = arrange.distribute(three(), [1, 2, 3], 'across');
  assert.deepEqual(places(spread, 'x'), [0.5, 1.625, 3.25]); // both gaps 5/8
  assert.deepEqual(arrange.distribute(three(), [1, 2], 'across'), three(), 'two have nothing between them to even out');
});

test('equal margins are the same to the edges and in between', () => {
  const even = arrange.equalMargins(three(), [1, 2, 3], 'across');
  // 4 1/4 less 2 of paper leaves four gaps of 9/16.
  assert.deepEqual(places(even, 'x'), [0.5625, 1.625, 3.1875]);
});

test('what is centred together keeps its places among itself', () => {
  const centred = arrange.centre(three(), [1, 3], 'across');
  assert.deepEqual(places(centred, 'x'), [0.5, 1.25, 3.25], 'it was centred already');
  assert.equal(arrange.centre(three(), [2], 'down').elements[1].y, 2.5);
});

test('a turned element lines up by the box round it', () => {
  const record = getWell({elements: [element({id: 1, x: 1, y: 1, width: 2, height: 1, rotation: 90})]});
  assert.deepEqual(arrange.boxOf(record.elements[0]), {x: 1.5, y: 0.5, width: 1, height: 2});
  assert.equal(arrange.align(record, [1], 'left').elements[0].x, -0.5);
});

test('an element goes up and down the stack, several keep their order', () => {
  /** @param {number[]} ids @param {arrange.Level} to */
  const order = (ids, to) => arrange.restack(three(), ids, to).elements.map(({id}) => id);
  assert.deepEqual(order([1], 'up'), [2, 1, 3]);
  assert.deepEqual(order([3], 'down'), [1, 3, 2]);
  assert.deepEqual(order([1, 2], 'up'), [3, 1, 2]);
  assert.deepEqual(order([2, 3], 'up'), [1, 2, 3], 'nothing is above them');
  assert.deepEqual(order([1, 2], 'top'), [3, 1, 2]);
  assert.deepEqual(order([2, 3], 'bottom'), [2, 3, 1]);
});

test('a copy has an id of its own and lies a little aside', () => {
  const {record, ids} = arrange.duplicate(three(), [1, 3], 4);
  assert.deepEqual(ids, [4, 5]);
  assert.deepEqual([record.elements[3].x, record.elements[3].y, record.elements[3].width], [0.75, 1.25, 0.5]);
});

test('turns stay in the range of the record', () => {
  assert.deepEqual([0, 180, -180, 181, 270, 360, -90].map(arrange.tidyTurn), [0, 180, 180, -179, -90, 0, -90]);
});
