import assert from 'node:assert/strict';
import {test} from 'node:test';

import {drawingOf, placeLabels} from '../../../api/web/drawing.js';
import {element, getWell} from './samples.js';

/** @typedef {import('../../../api/web/drawing.js').Node} Node */

const plain = {sizes: true, chosen: [], name: 'test'};

/** @param {Node} node @returns {Node[]} */
const all = (node) => [node, ...(node.children ?? []).flatMap(all)];

/** @param {Node} node @param {number} id */
function shape(node, id) {
  const found = all(node).find(({attributes}) => attributes['data-id'] === id);
  assert.ok(found, `shape ${id} is drawn`);
  return found;
}

test('the drawing is to scale, 96 px to the inch', () => {
  const drawing = drawingOf(getWell(), plain);
  assert.equal(drawing.attributes.viewBox, '-12 -12 432 552');
  const {x, y, width, height} = shape(drawing, 1).attributes;
  assert.deepEqual([x, y, width, height], [12, 12, 384, 504]);
  const {cx, cy, rx} = shape(drawing, 5).attributes;
  assert.deepEqual([cx, cy, rx], [204, 228, 84]);
});

test('a millimetre layout is drawn at the same scale', () => {
  const record = getWell({unit: 'mm', card: {name: 'iso-a6', width: 105, height: 148}, elements: [element({x: 0, y: 0, width: 127, height: 25.4})]});
  const {width, height} = shape(drawingOf(record, plain), 1).attributes;
  assert.deepEqual([width, height], [480, 96]); // 127 mm is 5 in, 25.4 mm is 1 in
});

test('shapes are drawn bottom of the stack first', () => {
  const ids = all(drawingOf(getWell(), plain)).map(({attributes}) => attributes['data-id']).filter(Boolean);
  assert.deepEqual(ids, [1, 2, 5]);
});

test('a mat is drawn behind its element, larger by what it adds', () => {
  const record = getWell({elements: [element({x: 1, y: 1, width: 2, height: 2, mats: [0.25]})]});
  const group = all(drawingOf(record, plain)).find(({attributes}) => attributes['clip-path']);
  const [mat, top] = group?.children ?? [];
  assert.deepEqual([mat.attributes.x, mat.attributes.width], [84, 216]);
  assert.equal(top.attributes['data-id'], 1);
});

test('the picked shape is lit and outlined on top of all others', () => {
  const drawing = drawingOf(getWell(), {...plain, chosen: [1]});
  assert.equal(shape(drawing, 1).attributes.class, 'shape lit');
  assert.equal(all(drawing).at(-1)?.attributes.class, 'lit-outline');
});

test('labels say makers\' sizes and never lie on each other or under a shape', () => {
  const labels = placeLabels(getWell(), 96);
  assert.deepEqual(labels.map(({text}) => text), ['4 x 5 1/4', '4 1/4 x 1', '1 3/4']);
  const boxes = labels.map(({x, y, size, text, upright}) => {
    const [along, across] = [text.length * size * 0.28, size / 2];
    return upright ? [x - across, y - along, x + across, y + along] : [x - along, y - across, x + along, y + across];
  });
  const [background, strip, circle] = [[12, 12, 396, 516], [0, 192, 408, 288], [120, 144, 288, 312]];
  const apart = (/** @type {number[]} */ a, /** @type {number[]} */ b) => a[0] >= b[2] || b[0] >= a[2] || a[1] >= b[3] || b[1] >= a[3];
  assert.ok(apart(boxes[0], strip) && apart(boxes[0], circle) && apart(boxes[1], circle));
  assert.ok(apart(boxes[0], boxes[1]) && apart(boxes[1], boxes[2]) && apart(boxes[0], boxes[2]));
  assert.ok(boxes[0][0] >= background[0] && boxes[0][3] <= background[3], 'it lies in its own shape');
});

test('a shape with no room for its size goes without', () => {
  const record = getWell({elements: [element({x: 1, y: 1, width: 0.125, height: 0.125})]});
  assert.deepEqual(placeLabels(record, 96), []);
});

test('every kind of element is drawn', () => {
  const kinds = [
    {shape: 'rectangle', tag: 'rect'}, {shape: 'circle', tag: 'ellipse'}, {shape: 'oval', tag: 'ellipse'},
    {shape: 'banner', tag: 'polygon'}, {shape: 'mark', kind: 'dot', tag: 'circle'},
    {shape: 'mark', kind: 'heart', tag: 'path'}, {shape: 'mark', kind: 'star', tag: 'polygon'},
    {shape: 'mark', kind: 'flower', tag: 'polygon'}, {shape: 'mark', kind: 'other', tag: 'circle'},
  ];
  for (const {tag, ...more} of kinds) {
    const one = element(/** @type {any} */ (more));
    assert.equal(shape(drawingOf(getWell({elements: [one]}), plain), 1).tag, tag, `${more.shape} ${more.kind ?? ''}`);
  }
});
