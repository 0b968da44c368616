import assert from 'node:assert/strict';
import {test} from 'node:test';

import {edgeRest, linesOf, restOf} from '../../../api/web/snapping.js';

const CARD = {width: 4.25, height: 5.5};
const PANEL = {box: {x: 0.5, y: 0.5, width: 3.25, height: 2}, name: '1 Panel'};

/** @param {{x: number, y: number, width: number, height: number}} box @param {number} [reach] */
function rest(box, reach = 0.1) {
  const {dx, dy} = restOf(box, [PANEL], CARD, 'in', reach);
  return [box.x + dx, box.y + dy];
}

test('a box that nearly lines up comes to rest on the line', () => {
  assert.deepEqual(rest({x: 0.53, y: 3, width: 1, height: 1}), [0.5, 3], 'its left with the panel');
  assert.deepEqual(rest({x: 1.6, y: 3, width: 1, height: 1}), [1.625, 3], 'its middle with the card');
  assert.equal(rest({x: 2, y: 2.52, width: 1, height: 1})[1], 2.5, 'its top with the bottom of the panel');
  assert.equal(rest({x: 2, y: 2.66, width: 1, height: 1})[1], 2.625, 'or an eighth below it');
});

test('away from every line, and with none wanted, it goes to the grid', () => {
  assert.deepEqual(rest({x: 0.97, y: 3.53, width: 1.375, height: 0.875}, 0.01), [1, 3.5]);
  assert.deepEqual(rest({x: 0.52, y: 3.02, width: 1, height: 1}, 0), [0.5, 3]);
});

test('what a box rests on is said in words', () => {
  const lines = linesOf({x: 1.625, y: 2.5, width: 1, height: 1}, [PANEL], CARD, 'in');
  assert.deepEqual(lines.map(({axis, words}) => [axis, words]), [
    ['x', "the card's centre"], ['y', 'the bottom of 1 Panel'],
  ]);
  assert.deepEqual(linesOf({x: 0.9375, y: 3.0625, width: 1, height: 1}, [PANEL], CARD, 'in'), []);
});

test('a dragged edge comes to rest on edges and usual margins', () => {
  assert.equal(edgeRest('x', 3.79, [PANEL], CARD, 'in', 0.1), 3.75);
  assert.equal(edgeRest('x', 4.1, [], CARD, 'in', 0.1), 4.125);
  assert.equal(edgeRest('y', 3.33, [PANEL], CARD, 'in', 0.05), 3.3125);
});
