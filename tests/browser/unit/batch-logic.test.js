import assert from 'node:assert/strict';
import {test} from 'node:test';

import {
  cutCells, cutDoneWords, cuttingWords, drawingWords, eventsIn, missingWords, newBatch, paperChoices, savedBatch, sheetWords, supplyWords,
  totalsWords, withCards, withCutting, withoutLayout, withPaper,
} from '../../../api/web/batch-logic.js';
import {sheetDrawing} from '../../../api/web/sheet-drawing.js';

/** @typedef {import('../../../api/web/batch-logic.js').Batch} Batch */
/** @typedef {import('../../../api/web/batch-logic.js').PlannedSheet} PlannedSheet */

/** @type {Batch} */
const THURSDAY = {
  schema: 1, title: 'Thursday round', unit: 'in', layouts: [{layout: 3, cards: 4}, {layout: 5, cards: 8}],
  papers: [{layout: 3, supply: 'A', paper: 7, face: 1}], cutting: {blade: 0, least_strip: 0, stages: 'free', bases: true, middles: false}, notes: '',
};

/** Two panels 4 x 5 1/4 out of a 6 x 12 strip. @type {PlannedSheet} */
const SHEET = {
  number: 2, paper: 7, name: 'Ferns, 6 x 12', count: 1, unit: 'in', width: 6, height: 12,
  pieces: [
    {letter: 'a', turned: false, face: 0, x: 0, y: 0, width: 4, height: 5.25},
    {letter: 'a', turned: false, face: 1, x: 0, y: 5.25, width: 4, height: 5.25},
  ],
  cuts: [
    {number: 1, part: {x: 0, y: 0, width: 6, height: 12}, upright: true, at: 4, setting: 4, setting_words: '4'},
    {number: 2, part: {x: 0, y: 0, width: 4, height: 12}, upright: false, at: 5.25, setting: 5.25, setting_words: '5 1/4'},
  ],
  offcuts: [{x: 4, y: 0, width: 2, height: 12}, {x: 0, y: 10.5, width: 4, height: 1.5}],
};

const TOTALS = {cards: 12, sheets: 3, least_sheets: 3, pieces: 24, missing: 0, cuts: 17, settings: 1, used: 0.714, proven: true};

test('a batch begins with four cards of each layout', () => {
  const batch = newBatch([{id: '3', title: 'Thank you', unit: 'mm'}, {id: '5', title: 'Get well'}]);
  assert.deepEqual(batch, {schema: 1, title: 'Thank you and 1 more', unit: 'mm', layouts: [{layout: 3, cards: 4}, {layout: 5, cards: 4}]});
  assert.ok(newBatch([{id: 1, title: 'x'.repeat(300)}]).title.length <= 200);
  assert.deepEqual(newBatch([{id: 1, cards: 6}]).layouts, [{layout: 1, cards: 6}], 'or as many as were asked for');
});

test('numbers of cards and layouts change, and the choices go with their layout', () => {
  assert.deepEqual(withCards(THURSDAY, 5, 6).layouts, [{layout: 3, cards: 4}, {layout: 5, cards: 6}]);
  const less = withoutLayout(THURSDAY, 3);
  assert.deepEqual([less.layouts, less.papers], [[{layout: 5, cards: 8}], []]);
  assert.equal(withoutLayout(less, 5), less, 'the last layout stays');
});

test('a paper is chosen for one part, and proposed again', () => {
  const other = withPaper(THURSDAY, 3, 'A', '9:0');
  assert.deepEqual(other.papers, [{layout: 3, supply: 'A', paper: 9, face: 0}]);
  assert.equal(withPaper(other, 5, 'A', '9:0').papers.length, 2, 'another layout has papers of its own');
  assert.deepEqual(withPaper(other, 3, 'A', '').papers, []);
});

test('options change one by one', () => {
  assert.deepEqual(withCutting(THURSDAY, {bases: false}).cutting, {...THURSDAY.cutting, bases: false});
  assert.equal(cuttingWords(THURSDAY), 'bases are cut');
  assert.equal(cuttingWords(withCutting(THURSDAY, {blade: 0.0625, least_strip: 0.5, stages: '2', bases: false, middles: true})),
    'blade 1/16, strips from 1/2, direction changes once, bases are bought, hidden middles are used');
});

test('every face of every paper can be chosen', () => {
  const face = (/** @type {string} */ colour) => ({name: '', colour, pattern: /** @type {const} */ ('plain'), directional: false});
  const paper = {schema: 1, name: 'Cream', kind: 'sheet', unit: /** @type {const} */ ('in'), width: 12, height: 12, count: 2, weight: 'paper', notes: '', tags: [], faces: [face('cream'), face('sand')]};
  assert.deepEqual(paperChoices([{id: 7, version: 1, etag: '', paper}]), [
    ['7:0', 'Cream, front: cream (12 x 12, 2 left)'], ['7:1', 'Cream, back: sand (12 x 12, 2 left)'],
  ]);
});

test('parts are called by what they are', () => {
  assert.deepEqual(['base', 'mat', 'mat-2', 'plain', 'A'].map(supplyWords), ['Card bases', 'Mats', 'Mats, layer 2', 'Parts without a letter', 'Paper A']);
});

test('the sums of a plan are sentences', () => {
  assert.equal(totalsWords(TOTALS), '12 cards from 3 sheets, and less will not do. 17 cuts with 1 setting of the trimmer; 71% of the sheets becomes cards.');
  assert.match(totalsWords({...TOTALS, proven: false, least_sheets: 2}), /from 3 sheets, where 2 would be the least thinkable\./);
  assert.match(totalsWords({...TOTALS, missing: 6, proven: false}), /^24 pieces of 30 for 12 cards from 3 sheets\./);
});

test('pieces without a place are told with their size', () => {
  const piece = {letter: 'c', layout: 3, supply: 'A', width: 4, height: 5.25, unit: /** @type {const} */ ('in'), count: 4, words: ['panel A (1)'], finish: '', score: ''};
  assert.deepEqual(missingWords({layouts: [], papers: [], pieces: [piece], sheets: [], missing: [{letter: 'c', count: 2}], advice: [], totals: TOTALS}),
    ['2 of piece c, 4 x 5 1/4, for panel A (1): no paper left for them.']);
});

test('a sheet, its drawing and its cuts are told in words', () => {
  assert.equal(sheetWords(SHEET), 'Sheet 2: Ferns, 6 x 12');
  assert.equal(sheetWords({...SHEET, count: 3}), 'Sheet 2: Ferns, 6 x 12. Cut 3 sheets like this');
  assert.equal(drawingWords(SHEET), 'Drawing of a sheet 6 x 12: pieces 2 of a; left over 2 x 12, 4 x 1 1/2. The table tells the cuts.');
  assert.deepEqual(SHEET.cuts.map((cut) => cutCells(cut, 'in')), [['1', '4', 'top to bottom', '6 x 12'], ['2', '5 1/4', 'left to right', '4 x 12']]);
});

test('a sheet is drawn to scale with every piece, offcut and cut', () => {
  const drawing = sheetDrawing(SHEET);
  const [, ...shapes] = drawing.children ?? [];
  const of = (/** @type {string} */ name) => shapes.filter(({attributes}) => String(attributes.class).split(' ').includes(name));
  assert.deepEqual([of('sheet-piece').length, of('sheet-back').length, of('sheet-offcut').length, of('sheet-cut').length, of('sheet-number').length], [2, 1, 2, 2, 2]);
  const [{attributes: whole}] = of('sheet-whole');
  const [{attributes: piece}] = of('sheet-piece');
  assert.equal(Number(piece.width) / Number(whole.width), 4 / 6);
  const [{attributes: first}, {attributes: second}] = of('sheet-cut');
  assert.deepEqual([first.x1, first.x2, first.y2], [140, 140, 420], 'the first cut runs from top to bottom, 4 of 6 from the left');
  assert.deepEqual([second.x1, second.x2, second.y1], [0, 140, 183.75], 'the second only across the part in hand');
  assert.deepEqual(of('sheet-number').map(({text}) => text), ['1', '2']);
});

test('what was cut is told with what came back', () => {
  const paper = (/** @type {number} */ id, /** @type {string} */ name, /** @type {number} */ width, count = 1) => ({
    id, version: 1, etag: '', paper: {schema: 1, name, kind: 'sheet', unit: /** @type {const} */ ('in'), width, height: 12, count, weight: 'paper', faces: [], notes: '', tags: []},
  });
  assert.equal(cutDoneWords({papers: [paper(7, 'Ferns', 12, 3), paper(9, 'Ferns', 2, 2)], taken: [{paper: 7, sheets: 3}]}),
    'Taken out of the drawer: 3 sheets of Ferns. Put back as offcuts: 2 x Ferns 2 x 12.');
  assert.match(cutDoneWords({papers: [paper(7, 'Ferns', 12)], taken: [{paper: 7, sheets: 1}]}), /1 sheet of Ferns\. No offcut/);
});

test('events are read as they come, whole ones only', () => {
  const first = eventsIn('event: progress\ndata: {"sheets": 4}\n\nevent: pl');
  assert.deepEqual(first, {events: [{name: 'progress', data: {sheets: 4}}], rest: 'event: pl'});
  const second = eventsIn(`${first.rest}an\r\ndata:{"a":\r\ndata: 1}\r\n\r\n: still there\n\n`);
  assert.deepEqual(second, {events: [{name: 'plan', data: {a: 1}}], rest: ''});
});

test('a batch is told from what the service adds', () => {
  assert.deepEqual(savedBatch({...THURSDAY, id: 2, version: 1, etag: '"2-1"', saved_at: 'then'}),
    {id: 2, version: 1, etag: '"2-1"', savedAt: 'then', cutAt: null, record: THURSDAY});
});
