import assert from 'node:assert/strict';
import {test} from 'node:test';

import {sidesOnInk} from '../../../api/web/ink.js';

const [WIDTH, HEIGHT] = [120, 100];

/** White paper with the outline of a box in pencil. @param {number[]} box @param {number} grey */
function drawn([left, top, right, bottom], grey) {
  const picture = new Uint8ClampedArray(WIDTH * HEIGHT).fill(240);
  for (let y = top; y <= bottom; y += 1) for (const x of [left, right]) picture[y * WIDTH + x] = grey;
  for (let x = left; x <= right; x += 1) for (const y of [top, bottom]) picture[y * WIDTH + x] = grey;
  return {width: WIDTH, height: HEIGHT, grey: picture};
}

test('each side goes to the line near it, whichever corners were clicked', () => {
  const picture = drawn([20, 30, 90, 70], 60);
  assert.deepEqual(sidesOnInk(picture, [23, 27, 86, 74], 6), [20, 30, 90, 70]);
  assert.deepEqual(sidesOnInk(picture, [86, 74, 23, 27], 6), [20, 30, 90, 70]);
});

test('a line that is too far away or too faint pulls nothing', () => {
  assert.deepEqual(sidesOnInk(drawn([20, 30, 90, 70], 60), [35, 40, 75, 60], 6), [35, 40, 75, 60]);
  assert.deepEqual(sidesOnInk(drawn([20, 30, 90, 70], 236), [23, 27, 86, 74], 6), [23, 27, 86, 74]);
});

test('clicks at the edge of the picture are no trouble', () => {
  const box = sidesOnInk(drawn([1, 1, 118, 98], 60), [0, 0, 119, 99], 6);
  assert.ok(box.every(Number.isFinite));
});
