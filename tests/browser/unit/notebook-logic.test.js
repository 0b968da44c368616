import assert from 'node:assert/strict';
import {test} from 'node:test';

import * as notebook from '../../../api/web/notebook-logic.js';
import {element, getWell} from './samples.js';

const NOW = new Date('2025-11-26T12:00:00Z');

/** @param {Partial<notebook.Query>} more @returns {notebook.Query} */
const query = (more) => ({...notebook.NO_QUERY, ...more});

/** @param {Partial<notebook.Query>} more @param {string} expected */
function check(more, expected) {
  assert.equal(decodeURIComponent(notebook.paramsOf(query(more), NOW).toString()), expected);
}

test('a query is asked of the service in its words', () => {
  check({}, 'order=newest');
  check({text: ' edith '}, 'text=edith&order=newest');
  check({shapes: ['circle', 'strip'], slots: '4-'}, 'shapes=circle,strip&slots=4-&order=newest');
  check({piece: 'strip', atMost: '2 1/2'}, 'piece=strip&at_most=2+1/2&order=newest');
  check({piece: 'strip'}, 'order=newest');
  check({fits: '6 x 6', favourite: true, used: 'never', order: 'title'}, 'fits=6+x+6&favourite=true&uses=0&order=title');
  check({used: 'ever'}, 'uses=1-&order=newest');
  check({used: 'lately'}, 'unused_since=2025-08-27&order=newest');
});

test('every condition is told in words and can be forgotten alone', () => {
  const whole = query({
    text: 'edith', card: 'A2', tag: 'quick', shapes: ['oval', 'strip'], slots: '0', piece: 'strip', atMost: '2 1/2', fits: '6x6',
    favourite: true, used: 'never',
  });
  const conditions = notebook.conditionsOf(whole);
  assert.deepEqual(conditions.map(({words}) => words), [
    'words “edith”', 'card A2', 'tag “quick”', 'has an oval', 'has a strip', 'no patterned papers', 'a strip at most 2 1/2 wide',
    'every piece fits 6x6', 'favourites', 'never used',
  ]);
  for (const condition of conditions) {
    const left = notebook.conditionsOf(notebook.without(whole, condition)).map(({words}) => words);
    assert.deepEqual(left, conditions.map(({words}) => words).filter((words) => words !== condition.words));
  }
  assert.deepEqual(notebook.conditionsOf(notebook.NO_QUERY), []);
});

test('how often a layout was used is told in words', () => {
  const used = (/** @type {number} */ uses) => notebook.useWords({favourite: false, uses, lastUsed: uses ? '2025-11-05T10:00:00Z' : null});
  assert.equal(used(0), 'Not used yet');
  assert.equal(used(1), 'Used once, last on 5 Nov 2025');
  assert.equal(used(12), 'Used 12 times, last on 5 Nov 2025');
});

test('files are named by their title, whatever it is made of', () => {
  assert.equal(notebook.fileName('Thank you, Édith!'), 'thank-you-édith');
  assert.equal(notebook.fileName('../../<script>'), 'script');
  assert.equal(notebook.fileName('🌷 / \\ "'), 'layout');
  assert.equal(notebook.fileName('תודה רבה'), 'תודה-רבה');
  assert.ok(notebook.fileName('x'.repeat(300)).length <= 40);
});

test('what goes out as a file comes in as it was', () => {
  for (const records of [[getWell()], [getWell(), getWell({title: 'Thank you'})]]) {
    assert.deepEqual(notebook.recordsOf(notebook.fileOf(records).text), records);
  }
  assert.throws(() => notebook.recordsOf('Dear Ines'));
});

test('differences of two versions are told in sentences', () => {
  const before = getWell();
  const after = getWell({
    title: 'Get well, Ines',
    elements: [
      element({id: 5, shape: 'circle', x: 1.25, y: 1.5, width: 2, height: 2}),
      element({id: 2, role: 'strip', x: 0, y: 2.5, width: 4.25, height: 1}),
      element({id: 9, shape: 'oval', width: 2, height: 1}),
    ],
    tags: ['quick'],
  });
  assert.deepEqual(notebook.differences(before, after), [
    'Title: “Get well, with a strip” became “Get well, Ines”.',
    'Background 4 x 5 1/4 is gone.',
    'Circle: 1 3/4 became 2.',
    'Strip 4 1/4 x 1 moved.',
    'Oval 2 x 1 is new.',
    'The order in the stack changed.',
    'Tags: none became quick.',
  ]);
  assert.deepEqual(notebook.differences(before, before), []);
});

test('choosing leaves the earlier choice as it was', () => {
  const none = new Set();
  const one = notebook.choose(none, '3', true);
  assert.deepEqual([[...none], [...one], [...notebook.choose(one, '3', false)]], [[], ['3'], []]);
});
