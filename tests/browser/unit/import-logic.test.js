import assert from 'node:assert/strict';
import {test} from 'node:test';

import {
  countsWords, endWords, foldersOf, groupsOf, isOver, nothingSeen, paceWords, readable, ruleFault, ruleFields, ruleFrom, sortOut, stateWords,
  toLookAt, usualRule, withoutWaiting, withResults, withSample, withVerdict,
} from '../../../api/web/import-logic.js';

/** @typedef {import('../../../api/web/import-logic.js').FileResult} FileResult */
/** @typedef {import('../../../api/web/import-logic.js').Import} Import */
/** @typedef {import('../../../api/web/import-logic.js').Outcome} Outcome */

/** @param {number} number @param {string} name @param {Outcome} outcome @param {object} [more] @returns {FileResult} */
const file = (number, name, outcome, more = {}) => ({sequence: number, number, name, pages: [{page: 1, outcome, reason: '', layouts: [], ...more}]});
const COUNTS = {files: 1204, files_done: 1204, layouts: 1100, alike: 2, read: 1000, doubtful: 90, already_there: 61, blank: 4, no_layout: 3, which_card: 0, unreadable: 1};
/** @type {Import} */
const DONE = {id: 3, state: 'done', open: false, card: 'A2', cards: [], made_at: '2026-03-05T14:20:00Z', finished_at: null, counts: COUNTS};

const SOME = withResults(nothingSeen(), [
  file(2, 'tall/b.jpg', 'read', {layouts: [{id: 8}]}),
  file(1, 'a.jpg', 'doubtful', {reason: 'one shape is not sure', layouts: [{id: 7, like: 2}]}),
  file(3, 'c.jpg', 'which-card', {photo: 'f00d'}),
  file(4, 'd.jpg', 'blank'),
  file(5, 'e.jpg', 'already-there', {reason: 'the same file as a.jpg'}),
  {sequence: 6, number: 6, name: 'f.pdf', pages: [
    {page: 1, outcome: 'no-layout', reason: 'no card outline found', photo: 'beef', layouts: []},
    {page: 2, outcome: 'read', reason: '', layouts: [{id: 9}, {id: 10}]},
  ]},
]);

test('what came in is sorted by what has to be done with it, in the order of the files', () => {
  const groups = sortOut(SOME);
  const keys = Object.fromEntries(Object.entries(groups).map(([name, items]) => [name, items.map(({key}) => key)]));
  assert.deepEqual(keys, {
    card: ['3-1'], alike: ['1-1-7'], doubtful: [], none: ['6-1'], unreadable: [], read: ['2-1-8', '6-2-9', '6-2-10'], there: ['5-1'], blank: ['4-1'],
  });
  assert.deepEqual(groups.read.map(({folder, file: name, part}) => [folder, name, part]), [['tall', 'b.jpg', ''], ['', 'f.pdf', 'page 2, layout 1'], ['', 'f.pdf', 'page 2, layout 2']]);
  assert.equal(sortOut(SOME).read[0], groups.read[0], 'what did not change is the same object: its tile stays');
});

test('a decision takes a layout out of the question, and can be taken back', () => {
  const different = sortOut(withVerdict(SOME, 7, 'different'));
  assert.deepEqual([different.alike.length, different.doubtful.map(({layout}) => layout)], [0, [7]], 'what is doubtful is still to be looked at');
  const same = withVerdict(SOME, 7, 'same');
  assert.deepEqual(sortOut(same).there.map(({key}) => key), ['1-1-7', '5-1']);
  assert.deepEqual(sortOut(same, new Set([7])).doubtful.map(({layout}) => layout), [7]);
});

test('files that wait for a card go when it is said, and come back read', () => {
  const less = withoutWaiting(SOME);
  assert.deepEqual([less.files.has(3), less.last], [false, 6]);
  // Outcomes that were taken back give their numbers to those that come next.
  assert.equal(withoutWaiting(withResults(nothingSeen(), [file(1, 'a.jpg', 'read'), file(2, 'b.jpg', 'which-card')])).last, 1);
  const read = withResults(less, [{...file(3, 'c.jpg', 'read', {layouts: [{id: 11}]}), sequence: 7}]);
  assert.deepEqual([sortOut(read).card.length, sortOut(read).read.map(({layout}) => layout), read.last], [0, [8, 11, 9, 10], 7]);
});

test('an import is over when it has ended and every outcome was told', () => {
  const done = {...DONE, counts: {...COUNTS, files_done: 6}};
  assert.equal(isOver(done, SOME), true);
  assert.equal(isOver(done, withoutWaiting(SOME)), false);
  assert.equal(isOver({...done, state: 'running'}, SOME), false);
});

test('counts and states are said in words', () => {
  assert.equal(toLookAt(COUNTS), 96);
  assert.equal(countsWords(COUNTS), '1,204 files · 1,100 layouts in the notebook · 96 to look at · 61 already there · 4 blank');
  assert.equal(endWords(DONE), 'All read: 1,204 files. 1,100 layouts in the notebook, 96 to look at.');
  assert.equal(endWords({...DONE, state: 'canceled', counts: {...COUNTS, files: 1, files_done: 0, layouts: 0, alike: 0, doubtful: 0, no_layout: 0, unreadable: 0}}),
    'Given up after 0 of 1 file. 0 layouts in the notebook, nothing to look at.');
  assert.deepEqual([stateWords(DONE), stateWords({...DONE, state: 'running', open: true}), stateWords({...DONE, state: 'paused'})], ['Done', 'Waiting for more files', 'Paused']);
});

test('pace and time left are those of the last minute', () => {
  /** @type {import('../../../api/web/import-logic.js').Sample[]} */
  let samples = [];
  for (let second = 0; second <= 120; second += 2) samples = withSample(samples, {at: second * 1000, done: second < 40 ? second * 3 : 120 + (second - 40) / 2});
  assert.equal(paceWords(samples, 60), 'about 30 a minute, about 2 minutes left');
  assert.equal(paceWords(samples, 10), 'about 30 a minute, less than a minute left');
  assert.equal(paceWords(samples, 6000), 'about 30 a minute, about 3.5 hours left');
  assert.equal(paceWords(samples, 0), 'about 30 a minute');
  assert.equal(paceWords([{at: 0, done: 4}, {at: 1000, done: 9}], 100), '', 'a second tells nothing');
  assert.deepEqual(withSample(samples, {at: 122_000, done: 3}), [{at: 122_000, done: 3}], 'files that are read again begin anew');
  assert.match(paceWords([{at: 0, done: 0}, {at: 600_000, done: 2}], 0), /^about 12 an hour$/);
});

test('what is no picture is left out, and the rest is in the order a person counts in', () => {
  const facts = (/** @type {string} */ name, type = '') => ({name, type, size: 1000});
  const {files, leftOut} = readable([
    facts('drawer/scan 10.jpg'), facts('drawer/scan 2.JPG'), facts('drawer/.DS_Store'), facts('drawer/Thumbs.db'), facts('drawer/notes.txt', 'text/plain'),
    facts('__MACOSX/scan 2.jpg'), facts('page.HEIC'), facts('scan0001'), facts('pile.zip', 'application/zip'), facts('odd.jfif', 'image/jpeg'),
  ]);
  assert.deepEqual(files.map(({name}) => name), ['drawer/scan 2.JPG', 'drawer/scan 10.jpg', 'odd.jfif', 'page.HEIC', 'pile.zip', 'scan0001']);
  assert.deepEqual(leftOut, ['drawer/notes.txt']);
  assert.deepEqual(foldersOf([...files, facts('drawer/tall/x.png')]), ['drawer', 'drawer/tall']);
});

test('files go ten at a time, and at most 50 MB', () => {
  const sizes = (/** @type {number[]} */ ...list) => groupsOf(list.map((size) => ({name: 'x', size}))).map((group) => group.map(({size}) => size));
  assert.deepEqual(sizes(...Array(23).fill(1)).map((group) => group.length), [10, 10, 3]);
  assert.deepEqual(sizes(30e6, 20e6, 1, 120e6, 5), [[30e6, 20e6], [1], [120e6], [5]]);
  assert.deepEqual(sizes(), []);
});

test('a rule becomes fields of the form', () => {
  const rule = {...usualRule(), card: 'A7', folders: {tall: 'slimline'}};
  assert.deepEqual(ruleFields(rule, ['tall', 'wide']), [['card', 'A7']]);
  assert.deepEqual(ruleFields({...rule, way: 'folders'}, ['tall', 'wide']), [['card', 'A7'], ['folder', 'tall=slimline'], ['folder', 'wide=A7']]);
  assert.deepEqual(ruleFields({...rule, way: 'outline', among: ['A2', 'square']}, []), [['cards', 'A2,square']]);
  assert.deepEqual(ruleFields({...rule, way: 'outline', among: ['A2'], otherwise: 'A2'}, []), [['cards', 'A2'], ['card', 'A2']]);
  assert.match(ruleFault({...rule, way: 'outline', among: []}), /Tick the cards/);
  assert.equal(ruleFault({...rule, among: []}), '');
});

test('a kept rule is taken only as far as its cards are still there', () => {
  const cards = ['A2', 'A7', 'square'];
  assert.deepEqual(ruleFrom({way: 'outline', card: 'A7', among: ['A7', 'gone'], otherwise: 'gone', folders: {a: 'square', b: 'gone'}}, cards),
    {way: 'outline', card: 'A7', among: ['A7'], otherwise: '', folders: {a: 'square'}});
  for (const odd of [null, 7, 'x', {way: 'sideways', among: 'A2'}]) assert.deepEqual(ruleFrom(odd, cards), {way: 'one', card: 'A2', among: ['A2', 'square'], otherwise: '', folders: {}});
});
