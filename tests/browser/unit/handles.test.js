import assert from 'node:assert/strict';
import {test} from 'node:test';

import {HANDLES, handlePlace, pulled, roundedBy} from '../../../api/web/handles.js';
import {element, getWell} from './samples.js';

/** @param {string} name */
const handle = (name) => /** @type {import('../../../api/web/handles.js').Handle} */ (HANDLES.find((one) => one.name === name));
/** @param {import('../../../api/web/logic.js').Element} one */
const box = ({x, y, width, height}) => [x, y, width, height];

test('the side or corner across from a pulled handle stays', () => {
  const panel = element({x: 1, y: 1, width: 2, height: 1});
  assert.deepEqual(box(pulled(getWell(), panel, handle('right side'), [0.26, 5])), [1, 1, 2.25, 1]);
  assert.deepEqual(box(pulled(getWell(), panel, handle('top-left corner'), [0.5, 0.25])), [1.5, 1.25, 1.5, 0.75]);
  assert.deepEqual(box(pulled(getWell(), panel, handle('left side'), [9, 0])), [2.875, 1, 0.125, 1], 'never less than an eighth');
});

test('a circle grows both ways, a corner radius never outgrows its element', () => {
  const circle = element({shape: 'circle', x: 1, y: 1, width: 2, height: 2});
  assert.deepEqual(box(pulled(getWell(), circle, handle('right side'), [0.5, 0])), [1, 0.75, 2.5, 2.5]);
  const rounded = element({x: 1, y: 1, width: 2, height: 2, corner_radius: 1});
  assert.equal(pulled(getWell(), rounded, handle('bottom side'), [0, -1]).corner_radius, 0.5);
});

test('a turned element is pulled along its own sides', () => {
  const turned = element({x: 1, y: 2, width: 2, height: 1, rotation: 90});
  assert.deepEqual(handlePlace(turned, handle('right side')).map((value) => Math.round(value * 1e6) / 1e6), [2, 3.5]);
  const longer = pulled(getWell(), turned, handle('right side'), [0, 1]);
  assert.deepEqual(box(longer), [0.5, 2.5, 3, 1], 'its left end, at the top, stays at 1 1/2');
});

test('a size the person pulled is no longer in doubt, the other still is', () => {
  const doubtful = element({alternatives: [
    {side: 'width', size: 3, probability: 0.4}, {side: 'height', size: 3, probability: 0.4},
  ]});
  assert.deepEqual(pulled(getWell(), doubtful, handle('right side'), [-0.5, 0]).alternatives?.map(({side}) => side), ['height']);
});

test('corners are rounded by a pull towards the middle, from none to half the shorter side', () => {
  const panel = element({x: 1, y: 1, width: 2, height: 1, corner_radius: 0.125});
  const radius = (/** @type {[number, number]} */ by) => roundedBy(getWell(), panel, by).corner_radius;
  assert.deepEqual([radius([0.25, 0.25]), radius([-1, -1]), radius([3, 3])], [0.375, 0, 0.5]);
  assert.equal(roundedBy(getWell(), {...panel, rotation: 180}, [-0.25, -0.25]).corner_radius, 0.375);
});
