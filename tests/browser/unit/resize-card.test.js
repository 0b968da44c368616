import assert from 'node:assert/strict';
import {test} from 'node:test';

import {carriedTo} from '../../../api/web/resize-card.js';
import {element, getWell} from './samples.js';

/** @typedef {import('../../../api/web/logic.js').Element} Element */
/** @type {import('../../../api/web/client.js').Card} */
const A7 = {name: 'A7', width: 5, height: 7, unit: 'in'};
/** @type {import('../../../api/web/client.js').Card} */
const ISO_A6 = {name: 'iso-a6', width: 105, height: 148, unit: 'mm'};

/** @param {Partial<Element>[]} elements @param {import('../../../api/web/client.js').Card} card */
const carry = (elements, card, turned = false) => carriedTo(getWell({elements: elements.map((more, i) => element({id: i + 1, ...more}))}), card, turned);
/** @param {Element} one */
const box = ({x, y, width, height}) => [x, y, width, height];

test('a background keeps its border', () => {
  const record = carry([{x: 0.125, y: 0.125, width: 4, height: 5.25}], A7);
  assert.deepEqual(record.card, {name: 'A7', width: 5, height: 7, fold: 'left'});
  assert.deepEqual(box(record.elements[0]), [0.125, 0.125, 4.75, 6.75]);
});

test('a mat and its panel keep the border between them', () => {
  const record = carry([{x: 1, y: 1, width: 2.25, height: 2}, {x: 1.0625, y: 1.0625, width: 2.125, height: 1.875}], A7);
  const [mat, panel] = record.elements;
  assert.deepEqual([panel.x - mat.x, mat.width - panel.width, panel.y - mat.y, mat.height - panel.height], [0.0625, 0.125, 0.0625, 0.125]);
});

test('what is centred stays centred, a strip across the card still reaches both edges', () => {
  const [strip, circle] = carry([
    {x: 0, y: 2.25, width: 4.25, height: 1}, {shape: 'circle', x: 1.375, y: 2, width: 1.5, height: 1.5},
  ], A7).elements;
  assert.deepEqual(box(strip), [0, 2.875, 5, 1.25]);
  assert.deepEqual([circle.x * 2 + circle.width, circle.y * 2 + circle.height], [5, 7]);
  assert.equal(circle.width, circle.height);
});

test('a mark keeps its size, a kept margin its width', () => {
  const [mark, low] = carry([
    {shape: 'mark', x: 2, y: 4, width: 0.25, height: 0.25}, {x: 2, y: 4.25, width: 2, height: 1},
  ], A7).elements;
  assert.deepEqual([mark.width, mark.height], [0.25, 0.25]);
  assert.deepEqual([5 - low.x - low.width, 7 - low.y - low.height], [0.25, 0.25]);
});

test('everything is on the grid of the new card, inches or millimetres, turned or not', () => {
  const elements = [
    {x: 0.3125, y: 0.4375, width: 3.125, height: 1.875}, {x: 1.1875, y: 2.3125, width: 1.625, height: 2.375, rotation: 12},
    {shape: /** @type {const} */ ('oval'), x: 2.0625, y: 3.5, width: 1.75, height: 1.125}, {x: -0.25, y: 3, width: 4.75, height: 0.375},
  ];
  for (const card of [A7, ISO_A6]) {
    for (const turned of [false, true]) {
      const record = carry(elements, card, turned);
      const [size, place] = record.unit === 'in' ? [8, 16] : [1, 2];
      for (const one of record.elements) {
        for (const value of [one.width * size, one.height * size, one.x * place, one.y * place]) {
          assert.equal(value, Math.round(value), `${JSON.stringify(one)} on ${card.name}`);
        }
        assert.ok(one.width > 0 && one.height > 0);
      }
    }
  }
});

test('the photo stays with the layout it was taken of', () => {
  const record = carriedTo(getWell({capture: {photo: 'p', card_corners_px: [], warnings: []}}), A7);
  assert.equal('capture' in record, false);
  assert.equal(record.elements.some((one) => 'outline_px' in one), false);
});
