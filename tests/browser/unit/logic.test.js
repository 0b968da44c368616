import assert from 'node:assert/strict';
import {test} from 'node:test';

import * as logic from '../../../api/web/logic.js';
import {element, getWell} from './samples.js';

const PHOTO = {id: 'p1', width: 1000, height: 800};
const start = () => logic.startWork(PHOTO, [getWell()], 'A2');

/** @param {logic.Work} work @param {number} id */
function find(work, id) {
  const found = logic.draftOf(work)?.record.elements.find((one) => one.id === id);
  assert.ok(found, `element ${id} is there`);
  return found;
}

test('a centred side stays centred when its size is corrected', () => {
  const background = find(logic.correct(start(), 1, 'width', 3.875), 1);
  assert.deepEqual([background.x, background.width], [0.1875, 3.875]);
  assert.deepEqual([background.y, background.height], [0.125, 5.25]);
});

test('a side that was not centred keeps its left or top', () => {
  const strip = find(logic.correct(start(), 2, 'height', 1.25), 2);
  assert.deepEqual([strip.y, strip.height], [2, 1.25]);
});

test('a circle stays as high as wide', () => {
  const circle = find(logic.correct(start(), 5, 'height', 2), 5);
  assert.deepEqual([circle.width, circle.height], [2, 2]);
  assert.equal(circle.x, 1.125, 'it was centred from left to right');
});

test('a corner radius never outgrows its element', () => {
  const work = logic.startWork(PHOTO, [getWell({elements: [element({corner_radius: 0.5})]})], 'A2');
  assert.equal(find(logic.correct(work, 1, 'width', 0.5), 1).corner_radius, 0.25);
});

test('doubtful sizes are asked in words and either answer settles them', () => {
  const doubtful = getWell({
    elements: [element({role: 'panel', width: 3, alternatives: [{side: 'width', size: 3.125, probability: 0.4}]})],
  });
  const [question] = logic.questionsOf(doubtful);
  assert.equal(question.text, '1 Panel: 3 or 3 1/8 wide?');
  assert.deepEqual(question.answers.map(({label}) => label), ['3', '3 1/8']);
  for (const {size} of question.answers) {
    const work = logic.correct(logic.startWork(PHOTO, [doubtful], 'A2'), 1, 'width', size ?? 0);
    assert.equal(find(work, 1).width, size);
    assert.deepEqual(logic.questionsOf(logic.draftOf(work)?.record ?? doubtful), []);
  }
});

test('a faint element is asked about until it is kept or deleted', () => {
  const work = logic.startWork(PHOTO, [getWell({elements: [element({confidence: 0.3})]})], 'A2');
  const count = (/** @type {logic.Work} */ now) => logic.questionsOf(logic.draftOf(now)?.record ?? getWell()).length;
  assert.equal(count(work), 1);
  assert.equal(count(logic.keepElement(work, 1)), 0);
  assert.equal(count(logic.deleteElement(work, 1)), 0);
});

test('undo and redo walk through every change', () => {
  const first = start();
  const second = logic.correct(first, 2, 'height', 2);
  const third = logic.deleteElement(second, 1);
  const record = (/** @type {logic.Work} */ work) => logic.draftOf(work)?.record;
  assert.deepEqual(record(logic.undo(third)), record(second));
  assert.deepEqual(record(logic.undo(logic.undo(third))), record(first));
  assert.deepEqual(record(logic.undo(logic.undo(logic.undo(third)))), record(first));
  assert.deepEqual(record(logic.redo(logic.undo(third))), record(third));
  const other = logic.correct(logic.undo(third), 2, 'height', 3);
  assert.deepEqual(record(logic.redo(other)), record(other), 'a new change ends what could be redone');
});

test('a whole drag is one step to undo, and one that came back is none', () => {
  const to = (/** @type {number} */ x) => (/** @type {logic.Layout} */ record) => ({
    ...record, elements: record.elements.map((one) => (one.id === 5 ? {...one, x: one.x + x} : one)),
  });
  let work = logic.editBy(start(), to(0.25), 'drag 1');
  work = logic.editBy(work, to(0.5), 'drag 1');
  assert.equal(find(work, 5).x, 1.75, 'each step counts from where the drag began');
  const done = logic.endGesture(work);
  assert.equal(logic.draftOf(done)?.past.length, 1);
  assert.equal(find(logic.undo(done), 5).x, 1.25);
  assert.equal(find(logic.cancelGesture(work), 5).x, 1.25);
  const back = logic.endGesture(logic.editBy(work, to(0), 'drag 1'));
  assert.equal(logic.draftOf(back)?.past.length, 0);
});

test('elements are chosen one by one or several together', () => {
  const one = logic.chooseElement(start(), 1);
  assert.deepEqual(one.chosen, [1]);
  assert.deepEqual(logic.chooseElement(one, 2).chosen, [2]);
  assert.deepEqual(logic.chooseElement(one, 2, true).chosen, [1, 2]);
  assert.deepEqual(logic.chooseElement(one, 1, true).chosen, []);
  assert.deepEqual(logic.chooseElement(one, null).chosen, []);
  assert.deepEqual(logic.deleteElements(logic.chooseElement(one, 2, true), [1, 2]).chosen, []);
});

test('a circle becomes a square of the same size and back', () => {
  const circle = element({shape: 'circle', x: 1, y: 1, width: 2, height: 2});
  const square = logic.reshaped(circle, 'rectangle');
  assert.deepEqual([square.shape, square.width, square.height], ['rectangle', 2, 2]);
  assert.deepEqual(logic.reshaped(square, 'circle'), {...circle, rotation: 0});
  const panel = logic.reshaped(element({x: 1, y: 1, width: 3, height: 2, corner_radius: 0.25}), 'circle');
  assert.deepEqual([panel.x, panel.y, panel.width, panel.height, 'corner_radius' in panel], [1.5, 1, 2, 2, false]);
  assert.deepEqual(logic.reshaped(square, 'banner').ends, {left: 'straight', right: 'fishtail'});
});

test('an element that was missed is placed from two corners on the photo', () => {
  // A card photographed at 100 px an inch, turned a little.
  const corners = /** @type {logic.Point[]} */ ([[50, 40], [474, 60], [450, 610], [26, 590]]);
  const record = getWell({capture: {photo: 'p1', card_corners_px: corners, warnings: []}});
  const work = logic.addFromPhoto(logic.startWork(PHOTO, [record], 'A2'), [100, 150, 300, 250]);
  const added = logic.draftOf(work)?.record.elements.at(-1);
  assert.deepEqual([added?.id, added?.width, added?.height, added?.confidence], [6, 2, 1, 1]);
  assert.ok(Math.abs((added?.x ?? 0) - 0.6) < 0.1 && Math.abs((added?.y ?? 0) - 1.05) < 0.1, JSON.stringify(added));
  assert.deepEqual(work.chosen, [6]);
});

test('distances from the right and the bottom are set like those from the left and top', () => {
  const work = logic.correct(logic.correct(start(), 5, 'right', 0.5), 5, 'bottom', 1);
  assert.deepEqual([find(work, 5).x, find(work, 5).y], [2, 2.75]);
});

test('a save that waits is not sent twice, and work beyond it is', () => {
  const work = logic.describe(logic.openSaved({id: '7', etag: '"1"', record: getWell()}, null), {title: 'Mine'});
  const waiting = logic.markWaiting(work, 0, 'layout 7');
  assert.equal(logic.isChanged(waiting.drafts[0]), true);
  assert.deepEqual(logic.toSave(waiting), []);
  assert.deepEqual(logic.toSave(JSON.parse(JSON.stringify(waiting))), [], 'also after the page was closed');
  assert.equal(logic.toSave(logic.describe(waiting, {title: 'Mine still'})).length, 1);
});

test('a change that changes nothing is no step to undo', () => {
  const work = logic.correct(start(), 2, 'height', 1);
  assert.equal(logic.draftOf(work)?.past.length, 0);
});

test('functions leave the work they were given as it was', () => {
  const work = start();
  const before = structuredClone(work);
  logic.correct(work, 1, 'width', 2);
  logic.deleteElement(work, 1);
  logic.describe(work, {title: 'Other'});
  logic.moveCorner(logic.startCorners(work), 0, [5, 5]);
  assert.deepEqual(work, before);
});

test('saving takes only what is kept and changed', () => {
  const work = logic.keepCandidate(logic.startWork(PHOTO, [getWell(), getWell()], 'A2'), 1, false);
  assert.deepEqual(logic.toSave(work).map(({at}) => at), [0]);
  const sent = work.drafts[0].record;
  const saved = logic.markSaved(work, 0, {id: '7', etag: '"1"', record: sent}, sent);
  assert.deepEqual(logic.toSave(saved), []);
  assert.equal(logic.isChanged(saved.drafts[0]), false);
});

test('what is typed while a save is under way is not lost', () => {
  const work = start();
  const sent = work.drafts[0].record;
  const meanwhile = logic.describe(work, {title: 'Thank you'});
  const saved = logic.markSaved(meanwhile, 0, {id: '7', etag: '"1"', record: sent}, sent);
  assert.equal(saved.drafts[0].record.title, 'Thank you');
  assert.equal(logic.isChanged(saved.drafts[0]), true);
});

test('after a stale save both versions can be had', () => {
  const mine = logic.describe(logic.openSaved({id: '7', etag: '"1"', record: getWell()}, null), {title: 'Mine'});
  const theirs = logic.takeTheirs(mine, {id: '7', etag: '"2"', record: getWell({title: 'Theirs'})});
  assert.equal(logic.draftOf(theirs)?.record.title, 'Theirs');
  assert.equal(logic.draftOf(theirs)?.etag, '"2"');
  assert.equal(logic.draftOf(logic.undo(theirs))?.record.title, 'Mine');
  assert.equal(logic.copyOf(getWell({title: 'Mine'})).title, 'Mine (copy)');
});

test('corners start where they were found, else well inside, and stay on the photo', () => {
  const found = [[10, 10], [900, 20], [890, 700], [20, 690]];
  const read = logic.startWork(PHOTO, [getWell({capture: {photo: 'p1', card_corners_px: /** @type {logic.Point[]} */ (found), warnings: []}})], 'A2');
  assert.deepEqual(logic.startCorners(read).corners, found);
  const unread = logic.startCorners(logic.startTrouble(PHOTO, 'A2', 'No card outline found.'));
  assert.deepEqual(unread.corners?.[0], [150, 120]);
  assert.deepEqual(logic.moveCorner(unread, 0, [-40, 9000]).corners?.[0], [0, 800]);
});

test('corners that cross or lie in a line make no card', () => {
  assert.equal(logic.cornersMakeACard([[0, 0], [100, 5], [95, 100], [0, 90]]), true);
  assert.equal(logic.cornersMakeACard([[100, 0], [0, 0], [95, 100], [0, 90]]), false, 'two swapped');
  assert.equal(logic.cornersMakeACard([[0, 0], [50, 0], [100, 0], [0, 90]]), false, 'three in a line');
  assert.equal(logic.cornersMakeACard([[0, 0], [0, 90], [95, 100], [100, 5]]), false, 'the wrong way round');
});

test('reading again keeps the words and can be undone', () => {
  const work = logic.describe(start(), {title: 'For Ines', notes: 'blue card', tags: ['quick']});
  const again = logic.readAgain(logic.startCorners(work), getWell({title: '', elements: []}));
  const record = logic.draftOf(again)?.record;
  assert.deepEqual([record?.title, record?.notes, record?.tags, record?.elements], ['For Ines', 'blue card', ['quick'], []]);
  assert.equal(again.corners, null);
  assert.equal(logic.draftOf(logic.undo(again))?.record.elements.length, 3);
});

test('only what the person did counts as edited', () => {
  assert.equal(logic.isEdited(start()), false);
  assert.equal(logic.isEdited(logic.deleteElement(start(), 1)), true);
  assert.equal(logic.isEdited(logic.undo(logic.deleteElement(start(), 1))), false);
});

test('what an element is besides its size is said in a few words', () => {
  const one = element({slot: 'C', mats: [0.125, 0.25], corner_radius: 0.125, rotation: -10, raised: true});
  assert.equal(logic.factsText(one, 'in'), 'paper C, mats 1/8 and 1/4, corners 1/8, turned -10°, raised');
  assert.equal(logic.factsText(element({shape: 'banner', ends: {left: 'straight', right: 'fishtail'}}), 'in'), 'straight and fishtail ends');
  assert.equal(logic.factsText(element({}), 'in'), '');
});

test('tags are words between commas, none empty, none twice', () => {
  assert.deepEqual(logic.parseTags(' thank you, quick,, quick '), ['thank you', 'quick']);
  assert.deepEqual(logic.parseTags(''), []);
});

test('elements are called by place and kind', () => {
  const record = getWell();
  assert.deepEqual(record.elements.map((one) => logic.elementName(record, one)), ['1 Background', '2 Strip', '3 Circle']);
  assert.equal(logic.kindName(element({shape: 'mark', kind: 'heart'})), 'Heart');
  assert.equal(logic.cardText(record), 'A2, 4 1/4 x 5 1/2');
  assert.equal(logic.titleOf(getWell({title: ' '})), 'Untitled A2');
});
