import assert from 'node:assert/strict';
import {test} from 'node:test';

import {
  ALL_PAPERS, colourNames, countWords, faceWords, formOf, paperParams, readCut, readPaperForm, savedPaper, sheetSize, swatchOf, wholeNumber,
} from '../../../api/web/drawer-logic.js';

/** @typedef {import('../../../api/web/drawer-logic.js').Paper} Paper */

/** @type {Paper} */
const FERNS = {
  schema: 1, name: 'Ferns', kind: 'sheet', unit: 'in', width: 12, height: 12.25, count: 6, weight: 'paper', notes: '', tags: ['spring'],
  faces: [
    {name: 'Ferns', colour: 'green', pattern: 'busy', directional: true, unusable: {left: 0, right: 0, top: 0, bottom: 0.25}},
    {name: '', colour: 'cream', pattern: 'plain', directional: false},
  ],
};

/** @param {Partial<import('../../../api/web/drawer-logic.js').PaperForm>} change */
const read = (change) => readPaperForm({...formOf(FERNS), ...change}, null);

/** @param {ReturnType<typeof readPaperForm> | ReturnType<typeof readCut>} read */
function faultsOf(read) {
  assert.ok(!read.ok);
  return read.faults;
}

test('a paper goes through the form and comes out the same', () => {
  const form = formOf(FERNS);
  assert.deepEqual([form.width, form.height, form.faces[0].bottom, form.both, form.tags], ['12', '12 1/4', '1/4', true, 'spring']);
  assert.deepEqual(readPaperForm(form, FERNS), {ok: true, paper: FERNS});
});

test('what the form does not show is kept', () => {
  const offcut = {...FERNS, cut_from: 3};
  const again = readPaperForm(formOf(offcut), offcut);
  assert.ok(again.ok);
  assert.equal(again.paper.cut_from, 3);
});

test('sides are written as makers write them, on sixteenths or half millimetres', () => {
  const fine = read({width: '8½', height: '11 1/16 in'});
  assert.ok(fine.ok);
  assert.deepEqual([fine.paper.width, fine.paper.height], [8.5, 11.0625]);
  // ISO 216: A4 is 210 x 297 mm.
  const a4 = read({unit: 'mm', width: '210', height: '297 mm', both: false, faces: formOf(null).faces});
  assert.ok(a4.ok);
  assert.equal(sheetSize(a4.paper), '210 x 297 mm');
  assert.match(faultsOf(read({width: '11.99'}))['paper-width'], /nearest are/);
  assert.match(faultsOf(read({height: '0'}))['paper-height'], /more than nothing/);
});

test('a paper without a name or a number of sheets is told at each field', () => {
  const faults = faultsOf(read({name: ' ', count: 'many'}));
  assert.deepEqual(Object.keys(faults), ['paper-name', 'paper-count']);
  assert.ok('paper-count' in faultsOf(read({count: '10001'})), 'a drawer holds 10,000 sheets of a paper');
  const none = read({count: '0'});
  assert.ok(none.ok && none.paper.count === 0, 'none left is a number as well');
});

test('the back counts only where it can be shown', () => {
  const single = read({both: false});
  assert.ok(single.ok);
  assert.equal(single.paper.faces.length, 1);
});

test('edges that leave nothing of the paper are refused', () => {
  const faces = formOf(FERNS).faces.map((face) => ({...face, top: '12', bottom: '1/4'}));
  assert.match(faultsOf(read({faces}))['face-0-top'], /leave nothing/);
});

test('a face is told in words', () => {
  assert.equal(faceWords(FERNS.faces[0], 'in'), 'Ferns, green, busy, has an up, not usable: 1/4 at the bottom');
  assert.equal(faceWords(FERNS.faces[1], 'in'), 'cream, plain');
  assert.equal(faceWords({name: 'Green dots', colour: 'green', pattern: 'quiet', directional: false}, 'in'), 'Green dots, quiet', 'a colour in the name is not said twice');
});

test('a count is told with the word for its kind', () => {
  assert.deepEqual([countWords(FERNS), countWords({...FERNS, count: 1, kind: 'strip'}), countWords({...FERNS, kind: 'pad'}), countWords({...FERNS, count: 0})],
    ['6 sheets', '1 strip', '6 sheets', 'none left']);
});

test('a pattern and an up are drawn and not coloured only', () => {
  const parts = (/** @type {'plain' | 'quiet' | 'busy'} */ pattern, directional = false) =>
    swatchOf({name: '', colour: '', pattern, directional}, 'green').children?.length ?? 0;
  assert.equal(parts('plain'), 1);
  assert.ok(parts('quiet') > 1 && parts('busy') > 1 && parts('quiet') !== parts('busy'));
  assert.ok(parts('plain', true) > parts('plain'));
});

test('a colour in words has names to try, the whole first', () => {
  assert.deepEqual(colourNames('Dark green').slice(0, 1), ['darkgreen']);
  assert.ok(colourNames('soft dark green').includes('darkgreen'));
  assert.deepEqual(colourNames('42'), []);
});

test('only what is asked for is sent', () => {
  assert.equal(paperParams(ALL_PAPERS).toString(), '');
  assert.equal(paperParams({text: ' fern ', kind: 'pad', weight: '', holds: '4 1/4 x 5 1/2', inStock: true}).toString(),
    'text=fern&kind=pad&holds=4+1%2F4+x+5+1%2F2&in_stock=true');
});

test('the record is told from what the service adds', () => {
  const saved = savedPaper({...FERNS, id: 7, version: 2, etag: '"7-2"', saved_at: '2025-11-05T10:00:00Z'});
  assert.deepEqual(saved, {id: 7, version: 2, etag: '"7-2"', paper: FERNS});
});

test('sheets that were cut by hand, and their offcuts', () => {
  const line = (width = '', height = '', count = '1') => ({width, height, count});
  assert.deepEqual(readCut('2', [line('3', '12 1/4', '2'), line()], FERNS), {ok: true, cut: {sheets: 2, offcuts: [{width: 3, height: 12.25, count: 2}]}});
  assert.match(faultsOf(readCut('7', [], FERNS))['cut-sheets'], /from 1 to 6/);
  assert.match(faultsOf(readCut('1', [], {...FERNS, count: 0}))['cut-sheets'], /None is left/);
  assert.deepEqual(Object.keys(faultsOf(readCut('1', [line('3', '', '0')], FERNS))), ['offcut-0-height', 'offcut-0-count']);
});

test('a whole number is nothing else', () => {
  assert.deepEqual(['4', ' 12 ', '4.5', '-1', '', '0', '99'].map((text) => wholeNumber(text, 1, 50)), [4, 12, null, null, null, null, null]);
});
