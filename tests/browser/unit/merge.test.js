import assert from 'node:assert/strict';
import {test} from 'node:test';

import {differences, merged} from '../../../api/web/merge.js';
import {element, getWell} from './samples.js';

/** @typedef {import('../../../api/web/logic.js').Layout} Layout */
/** @param {Layout} record @param {number} id @param {Partial<import('../../../api/web/logic.js').Element>} more */
const changed = (record, id, more) => ({...record, elements: record.elements.map((one) => (one.id === id ? {...one, ...more} : one))});

test('what only one of two changed is taken from that one', () => {
  const base = getWell();
  const mine = changed(base, 2, {height: 1.25});
  const theirs = {...changed(base, 5, {slot: 'C'}), title: 'For Ines'};
  const found = differences(base, mine, theirs);
  assert.deepEqual(found.map(({key, choice, both}) => [key, choice, both]), [
    ['title', 'theirs', false], ['element 2', 'mine', false], ['element 5', 'theirs', false],
  ]);
  assert.deepEqual([found[1].mine, found[1].theirs], [
    '4 1/4 x 1 1/4, 0 from the left, 2 from the top', '4 1/4 x 1, 0 from the left, 2 from the top',
  ]);
  const together = merged(base, mine, theirs, {});
  assert.deepEqual([together.title, together.elements[1].height, together.elements[2].slot], ['For Ines', 1.25, 'C']);
});

test('what both changed is the person\'s to choose', () => {
  const base = getWell();
  const [mine, theirs] = [changed(base, 2, {height: 1.25}), changed(base, 2, {height: 2})];
  assert.equal(differences(base, mine, theirs)[0].both, true);
  assert.equal(merged(base, mine, theirs, {}).elements[1].height, 1.25);
  assert.equal(merged(base, mine, theirs, {'element 2': 'theirs'}).elements[1].height, 2);
});

test('what one added or deleted is a difference like any other', () => {
  const base = getWell();
  const mine = {...base, elements: [...base.elements, element({id: 9, x: 1, y: 4, width: 1, height: 1})]};
  const theirs = {...base, elements: base.elements.filter(({id}) => id !== 5)};
  const ids = (/** @type {Layout} */ record) => record.elements.map(({id}) => id);
  assert.deepEqual(ids(merged(base, mine, theirs, {})), [1, 2, 9]);
  assert.deepEqual(ids(merged(base, mine, theirs, {'element 5': 'mine', 'element 9': 'theirs'})), [1, 2, 5]);
  assert.match(differences(base, mine, theirs).map(({theirs}) => theirs).join('; '), /deleted/);
});

test('the order of the stack is one choice', () => {
  const base = getWell();
  const theirs = {...base, elements: [...base.elements].reverse()};
  const [order] = differences(base, base, theirs);
  assert.deepEqual([order.key, order.choice, order.theirs], ['order', 'theirs', 'Circle, Strip, Background']);
  assert.deepEqual(merged(base, base, theirs, {}), theirs);
});

test('two versions that agree have no difference', () => {
  assert.deepEqual(differences(getWell(), getWell({title: 'Other'}), getWell({title: 'Other'})), []);
});
