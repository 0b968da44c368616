import assert from 'node:assert/strict';
import {test} from 'node:test';

import {decidedIn, followedBy, followedWords} from '../../../api/web/decisions.js';
import * as logic from '../../../api/web/logic.js';
import {element, getWell} from './samples.js';

const NOTHING = {sizes: [], places: []};
const read = () => getWell({
  elements: [
    element({id: 1, x: 0.5, y: 1, width: 1, height: 1, alternatives: [{side: 'width', size: 1.125, probability: 0.4}]}),
    element({id: 2, x: 2, y: 1, width: 1, height: 1}),
    element({id: 3, x: 0.5, y: 3, width: 3.25, height: 2}),
  ],
  capture: {photo: 'p1', card_corners_px: [], warnings: [], measured: [{}]},
});
/** @param {(element: logic.Element) => Partial<logic.Element>} change */
const changed = (change) => ({...read(), elements: read().elements.map((one) => ({...one, ...change(one)}))});

test('a size that is another now was decided, and so was a doubt that is gone', () => {
  const resized = changed(({id}) => (id === 2 ? {height: 1.25} : {}));
  assert.deepEqual(decidedIn(resized, {record: read(), decided: NOTHING}).sizes, [{element: 2, side: 'height'}]);
  const answered = changed(({id}) => (id === 1 ? {alternatives: []} : {}));
  assert.deepEqual(decidedIn(answered, {record: read(), decided: NOTHING}).sizes, [{element: 1, side: 'width'}]);
});

test('what was moved or turned by hand keeps its place, what was resized does not', () => {
  const moved = changed(({id}) => (id === 2 ? {x: 2.25} : id === 3 ? {x: 0.25, width: 3.75} : {}));
  const decided = decidedIn(moved, {record: read(), decided: NOTHING});
  assert.deepEqual(decided, {sizes: [{element: 3, side: 'width'}], places: [2]});
  const turned = changed(({id}) => (id === 1 ? {rotation: 5} : {}));
  assert.deepEqual(decidedIn(turned, {record: read(), decided: NOTHING}).places, [1]);
});

test('what held before still holds, unless its element is gone', () => {
  /** @type {import('../../../api/web/decisions.js').Decided} */
  const decided = {sizes: [{element: 1, side: 'width'}, {element: 9, side: 'width'}], places: [3, 9]};
  assert.deepEqual(decidedIn(read(), {record: read(), decided}), {sizes: [{element: 1, side: 'width'}], places: [3]});
});

test('what followed takes its box and is told, everything else of it stays', () => {
  const before = changed(({id}) => (id === 2 ? {slot: 'B'} : {}));
  const again = changed(({id}) => (id === 2 ? {x: 1.875, width: 1.125, height: 1.125} : {}));
  const {record, followed} = followedBy(before, again);
  assert.deepEqual(followed, [2]);
  assert.deepEqual([record.elements[1].width, record.elements[1].slot], [1.125, 'B']);
  assert.equal(followedWords(record, followed), 'Worked out again with that size: 2 is 1 1/8 x 1 1/8. Undo takes this back.');
  assert.match(followedWords(record, [1, 2, 3]), /: 1 is .*, 2 is .* and 3 is /);
  assert.equal(followedWords(record, []), '');
});

test('undo takes back what followed and keeps the size that was decided', () => {
  const work = logic.correct(logic.startWork({id: 'p1', width: 10, height: 10}, [read()], 'A2'), 1, 'width', 1.125);
  const asked = logic.toSettle(work);
  assert.ok(asked);
  const again = {...asked.record, elements: asked.record.elements.map((one) => (one.id === 2 ? {...one, width: 1.125} : one))};
  const settled = logic.settleWith(work, asked, again);
  const widths = (/** @type {logic.Work} */ now) => logic.draftOf(now)?.record.elements.map(({width}) => width);
  assert.deepEqual(widths(settled), [1.125, 1.125, 3.25]);
  assert.deepEqual(widths(logic.undo(settled)), [1.125, 1, 3.25]);
});

test('an answer that comes after the person went on changes nothing', () => {
  const work = logic.correct(logic.startWork({id: 'p1', width: 10, height: 10}, [read()], 'A2'), 1, 'width', 1.125);
  const asked = logic.toSettle(work);
  assert.ok(asked);
  const on = logic.correct(work, 3, 'height', 2.5);
  assert.equal(logic.draftOf(logic.settleWith(on, asked, read()))?.record, logic.draftOf(on)?.record);
});
