import assert from 'node:assert/strict';
import {test} from 'node:test';

import * as logic from '../../../api/web/logic.js';
import {mergedReading, overlapShare} from '../../../api/web/read-again.js';
import {element, getWell} from './samples.js';

/** @typedef {import('../../../api/web/logic.js').Layout} Layout */
/** @type {import('../../../api/web/logic.js').Point[]} */
const CORNERS = [[0, 0], [425, 0], [425, 550], [0, 550]];
const PHOTO = {id: 'p1', width: 600, height: 800};
/** @param {import('../../../api/web/logic.js').Element[]} elements @returns {Layout} */
const read = (elements) => getWell({title: '', elements, capture: {photo: 'p1', card_corners_px: CORNERS, warnings: []}});

const panel = element({id: 1, x: 0.5, y: 0.5, width: 3, height: 2, confidence: 0.9});
const strip = element({id: 2, x: 0, y: 3, width: 4.25, height: 1, confidence: 0.9});

test('the share of two boxes that is in both', () => {
  assert.equal(overlapShare([0, 0, 2, 2], [0, 0, 2, 2]), 1);
  assert.equal(overlapShare([0, 0, 2, 1], [1, 0, 3, 1]), 1 / 3);
  assert.equal(overlapShare([0, 0, 1, 1], [1, 1, 2, 2]), 0);
});

test('what the person corrected wins over a second reading, the rest is read anew', () => {
  const work = logic.correct(logic.startWork(PHOTO, [read([panel, strip])], 'A2'), 1, 'width', 3.25);
  // The second reading names the elements the other way round and sees them a little differently.
  const again = logic.readAgain(work, read([{...strip, id: 1, height: 1.125}, {...panel, id: 2, width: 2.875, x: 0.5625}]));
  const [readStrip, kept] = logic.draftOf(again)?.record.elements ?? [];
  assert.equal(readStrip.height, 1.125);
  assert.deepEqual([kept.id, kept.x, kept.width], [2, 0.5, 3.25]);
});

test('what the person added stays, what they deleted stays away', () => {
  let work = logic.deleteElement(logic.startWork(PHOTO, [read([panel, strip])], 'A2'), 2);
  work = logic.addFromPhoto(work, [100, 450, 200, 500]);
  const record = logic.draftOf(logic.readAgain(work, read([{...panel, height: 2.125}, {...strip, id: 7}])))?.record;
  assert.deepEqual(record?.elements.map(({id, height}) => [id, height]), [[1, 2.125], [8, 0.5]]);
});

test('another card keeps what was said of an element and measures it anew', () => {
  const mine = read([{...panel, width: 3.25, slot: 'B', role: 'focal'}]);
  const larger = {...read([{...panel, x: 0.625, y: 0.625, width: 3.5, height: 2.5}]), card: {name: 'A7', width: 5, height: 7}};
  const {record} = mergedReading(mine, read([panel]), larger);
  assert.deepEqual([record.elements[0].width, record.elements[0].slot, record.elements[0].role], [3.5, 'B', 'focal']);
});

test('without knowing how it was read first, everything the person has stays', () => {
  const {record} = mergedReading(read([{...panel, width: 3.25}]), null, read([panel, strip]));
  assert.deepEqual(record.elements.map(({width}) => width), [3.25, 4.25]);
});

test('a photo of several cards goes on card by card', () => {
  const beside = (/** @type {Layout} */ record) => ({
    ...record, capture: {photo: 'p1', card_corners_px: CORNERS.map(([x, y]) => /** @type {[number, number]} */ ([x + 1000, y])), warnings: []},
  });
  let work = logic.startWork({...PHOTO, width: 1600}, [read([panel]), beside(read([strip]))], 'A2');
  work = logic.correct(logic.chooseCandidate(work, 1), 2, 'height', 1.5);
  const again = logic.readAllAgain(work, [beside(read([strip])), read([panel])]);
  assert.deepEqual(again.drafts.map(({record}) => record.elements[0].height), [1.5, 2]);
  assert.equal(again.at, 0, 'the one that was looked at is looked at');
});
