import assert from 'node:assert/strict';
import {test} from 'node:test';

import * as logic from '../../../api/web/scan-logic.js';

const NOON = new Date(2026, 10, 27, 12, 5, 9);

/** @param {Partial<import('../../../api/web/scan-logic.js').Shot>} [change] @param {import('../../../api/web/scan-logic.js').Shot[]} [others] */
const shot = (change = {}, others = []) => ({...logic.newShot(`id-${others.length}`, NOON, 'image/jpeg', 'A2', others), ...change});
/** @param {string} name @param {string} outcome @param {number[]} [layouts] @param {string} [reason] */
const file = (name, outcome, layouts = [], reason = '') => ({name, pages: [{outcome, reason, layouts: layouts.map((id) => ({id}))}]});

test('no two shots of a series have the same name, however fast they are taken', () => {
  const first = shot();
  const second = shot({}, [first]);
  const third = shot({}, [first, second]);
  assert.deepEqual([first, second, third].map(({name}) => name), [
    'Shot of 27 Nov 2026, 12.05.09.jpg', 'Shot of 27 Nov 2026, 12.05.09 (2).jpg', 'Shot of 27 Nov 2026, 12.05.09 (3).jpg',
  ]);
  assert.equal(logic.fileName(NOON, 'image/heic', []), 'Shot of 27 Nov 2026, 12.05.09.heic');
  assert.equal(logic.fileName(NOON, '', []), 'Shot of 27 Nov 2026, 12.05.09.jpg');
});

test('each try waits longer, up to half a minute', () => {
  assert.deepEqual([1, 2, 3, 4, 5, 6, 7, 60].map(logic.waitMs), [1000, 2000, 4000, 8000, 16000, 30000, 30000, 30000]);
});

test('a shot that was sent twice keeps its first outcome', () => {
  const sent = shot({state: 'sent', import: 4});
  const elsewhere = shot({state: 'sent', import: 5});
  const again = [file(sent.name, 'read', [7]), file(sent.name, 'already-there', [], `the same file as ${sent.name}`)];
  const [first, other] = logic.withResults([sent, elsewhere], 4, again);
  assert.deepEqual([first.state, first.result], ['read', {outcome: 'read', reason: '', layouts: [7]}]);
  assert.equal(other, elsewhere, 'of another import nothing was told');
  assert.deepEqual(logic.withResults([first], 4, again), [first], 'what is told again changes nothing');
  const waiting = shot();
  assert.deepEqual(logic.withResults([waiting], 4, again), [waiting], 'what was not sent has no outcome');
});

test('what is thrown away is not counted, and what is on its way is', () => {
  const shots = [shot(), shot({state: 'sent', import: 3}), shot({state: 'read', import: 3}), shot({thrown: true}), shot({state: 'sent', import: 3, thrown: true})];
  assert.equal(logic.countWords(shots), '1 to be sent');
  assert.equal(logic.countWords(shots.slice(1)), '2 shots, all sent');
  assert.equal(logic.countWords([shots[2]]), '1 shot, all sent');
  assert.equal(logic.countWords([]), '');
  assert.deepEqual(logic.asked(shots), [3], 'the outcome of what was thrown away is waited for too: it has to go');
  assert.equal(logic.unsent(shots).length, 1);
});

test('an import whose answer was lost is found by its being open and empty', () => {
  const one = (/** @type {Partial<import('../../../api/web/scan-logic.js').Import>} */ change) => ({id: 1, state: 'running', open: true, card: 'A2', counts: {files: 0}, ...change});
  assert.equal(logic.unheard([one({id: 4}), one({id: 3})], 'A2'), 4);
  assert.equal(logic.unheard([one({state: 'done'}), one({open: false}), one({card: 'A7'}), one({counts: {files: 1}})], 'A2'), null);
});

test('the latest shot stands first', () => {
  const [old, late] = [shot({id: 'old', at: 1}), shot({id: 'late', at: 2})];
  assert.deepEqual(logic.shown([old, late]).map(({id}) => id), ['late', 'old']);
});

test('each outcome says what to do', () => {
  const words = (/** @type {string} */ outcome, /** @type {number[]} */ layouts = [], reason = '') =>
    logic.shotWords(shot({state: 'read', result: {outcome, reason, layouts}}), false);
  assert.equal(words('read', [3]), 'One layout is in the notebook.');
  assert.equal(words('read', [3, 4]), '2 layouts are in the notebook.');
  assert.equal(words('already-there', [], 'it was read as layout 5'), 'The notebook has this picture already. It was read as layout 5.');
  assert.match(words('no-layout', [], 'no card outline found: show all four sides'), /^No layout was found\. No card outline found: show all four sides\. Take it again/);
  assert.match(logic.shotWords(shot(), true), /^Kept on this phone/);
  assert.match(logic.shotWords(shot(), false), /^Being sent/);
});
