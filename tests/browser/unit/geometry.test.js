import assert from 'node:assert/strict';
import {test} from 'node:test';

import {bounds, outlineOnCard, outlineOnPhoto, projection, unprojection} from '../../../api/web/geometry.js';
import {element, getWell} from './samples.js';

/** @typedef {import('../../../api/web/logic.js').Point} Point */

/** @param {Point} got @param {Point} expected @param {number} within */
function near(got, expected, within) {
  assert.ok(Math.hypot(got[0] - expected[0], got[1] - expected[1]) <= within, `${got} is not ${expected}`);
}

test('the projection agrees with a worked homography', () => {
  // An A2 card's corners to these pixels; the centre is where the diagonals
  // cross, which needs no homography. The values were computed with exact
  // fractions and agree with numpy and OpenCV to 1e-13.
  const map = projection(4.25, 5.5, [[412, 300], [1583, 356], [1490, 1902], [336, 1770]]);
  near(map([0, 0]), [412, 300], 1e-9);
  near(map([4.25, 5.5]), [1490, 1902], 1e-9);
  near(map([2.125, 2.75]), [940.174963784637, 1084.91307234043], 1e-9);
  near(map([1, 1]), [662.228515546526, 585.456220558067], 1e-9);
});

test('an outline found on the photo is shown until the numbers say otherwise', () => {
  /** @type {Point[]} */
  const found = [[12, 13], [412, 12], [413, 538], [13, 537]];
  const one = element({outline_px: found});
  const record = getWell({
    elements: [one],
    capture: {photo: 'p', card_corners_px: [[0, 0], [425, 0], [425, 550], [0, 550]], warnings: []},
  });
  assert.equal(outlineOnPhoto(record, one), found);
  const corrected = {...one, width: 2};
  assert.deepEqual(bounds(outlineOnPhoto(record, corrected)).map(Math.round), [13, 13, 213, 538]);
});

test('a layout drawn by hand has no place on a photo', () => {
  assert.deepEqual(outlineOnPhoto(getWell(), element({})), []);
});

test('an element turned by a right angle swaps its sides about its centre', () => {
  const outline = outlineOnCard(element({x: 1, y: 1, width: 3, height: 1, rotation: 90}));
  assert.deepEqual(bounds(outline).map((side) => Math.round(side * 1e9) / 1e9 + 0), [2, 0, 3, 3]);
  near(outline[0], [3, 0], 1e-9); // its top-left corner is now at the top-right: clockwise
});

test('a banner is cut half as deep as it is high', () => {
  const banner = element({shape: 'banner', x: 0, y: 0, width: 4, height: 1, ends: {left: 'straight', right: 'fishtail'}});
  assert.deepEqual(outlineOnCard(banner), [[0, 1], [0, 0], [4, 0], [3.5, 0.5], [4, 1]]);
  const upright = element({shape: 'banner', x: 0, y: 0, width: 1, height: 4, ends: {left: 'straight', right: 'point'}});
  assert.deepEqual(bounds(outlineOnCard(upright)), [0, 0, 1, 4]);
  // The depth that was given, but never over half the length.
  const given = (/** @type {number} */ depth) => outlineOnCard({...banner, ends: {left: 'straight', right: 'fishtail', depth}})[3];
  assert.deepEqual([given(0.75), given(9)], [[3.25, 0.5], [2, 0.5]]);
});

test('the way back from the photo undoes the way there', () => {
  /** @type {import('../../../api/web/logic.js').Point[]} */
  const corners = [[412, 300], [1583, 356], [1490, 1902], [336, 1770]];
  const back = unprojection(4.25, 5.5, corners);
  for (const point of /** @type {import('../../../api/web/logic.js').Point[]} */ ([[0, 0], [4.25, 5.5], [1, 1], [3.3, 0.2]])) {
    const [x, y] = back(projection(4.25, 5.5, corners)(point));
    assert.ok(Math.hypot(x - point[0], y - point[1]) < 1e-9, `${point} came back as ${x}, ${y}`);
  }
  // Computed in exact fractions with a general linear solver.
  const [x, y] = back([1000, 1000]);
  assert.ok(Math.abs(x - 2.32500747) < 1e-7 && Math.abs(y - 2.42483659) < 1e-7);
});
