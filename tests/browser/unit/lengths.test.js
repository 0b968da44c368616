import assert from 'node:assert/strict';
import {test} from 'node:test';

import {parseLength, showLength} from '../../../api/web/lengths.js';

/** @typedef {import('../../../api/web/lengths.js').Unit} Unit */
/** @typedef {import('../../../api/web/lengths.js').Step} Step */

/** @param {string} text @param {Unit} [unit] @param {Step} [step] */
function valueOf(text, unit = 'in', step = 'size') {
  const parsed = parseLength(text, unit, step);
  assert.ok(parsed.ok, `${text}: ${parsed.ok ? '' : parsed.message}`);
  return parsed.value;
}

/** @param {string} text @param {Unit} [unit] @param {Step} [step] */
function refusalOf(text, unit = 'in', step = 'size') {
  const parsed = parseLength(text, unit, step);
  assert.ok(!parsed.ok, `${text} was taken`);
  return parsed.message;
}

test('a length is read in every form makers write', () => {
  for (const text of ['4 1/4', '4-1/4"', '4¼', '4 ¼', '4.25', '17/4 in', '4 2/8', ' 4 1/4 inches ', '4 1/4”']) {
    assert.equal(valueOf(text), 4.25, text);
  }
  assert.equal(valueOf('.5'), 0.5);
  assert.equal(valueOf('7/8'), 0.875);
  assert.equal(valueOf('⅝'), 0.625);
});

test('a written unit wins over the record\'s, and converts exactly', () => {
  // 1 in = 25.4 mm exactly (international yard and pound agreement, 1959), so
  // 1/8 in = 3.175 mm: eight eighths and 25.4 mm are one length.
  assert.equal(valueOf('25.4 mm'), 1);
  assert.equal(valueOf('3.175mm'), 0.125);
  assert.equal(valueOf('108 mm', 'mm'), 108);
  assert.equal(valueOf('108', 'mm'), 108);
  assert.equal(valueOf('5 in', 'mm'), 127);
});

test('an off-grid size is refused with its two neighbours', () => {
  assert.equal(refusalOf('4.3'), '“4.3” is between two eighths: the nearest are 4 1/4 and 4 3/8.');
  assert.equal(refusalOf('108 mm'), '“108 mm” is between two eighths: the nearest are 4 1/4 and 4 3/8.');
  assert.equal(refusalOf('1/3'), '“1/3” is between two eighths: the nearest are 1/4 and 3/8.');
  assert.equal(refusalOf('10.5', 'mm'), '“10.5” is between two millimetres: the nearest are 10 mm and 11 mm.');
});

test('positions lie on sixteenths and half millimetres, and may be off the card', () => {
  assert.equal(valueOf('3/16', 'in', 'position'), 0.1875);
  assert.equal(valueOf('-1/16', 'in', 'position'), -0.0625);
  assert.equal(valueOf('0', 'in', 'position'), 0);
  assert.equal(valueOf('10.5', 'mm', 'position'), 10.5);
  assert.match(refusalOf('3/16'), /between two eighths/);
  assert.match(refusalOf('1/32', 'in', 'position'), /between two sixteenths: the nearest are 0 and 1\/16/);
});

test('what is no size gets a sentence', () => {
  for (const text of ['wide', '4 1/0', '1/2/3', '4,25', '1e3', '--4', '4 1 4', 'NaN', 'x'.repeat(500)]) {
    assert.match(refusalOf(text), /is not a length\. Write it like 4 1\/4, 4\.25 or 108 mm\.$/, text);
  }
  assert.match(refusalOf(''), /^Write a length here/);
  assert.match(refusalOf('0'), /more than nothing/);
  assert.match(refusalOf('-2'), /more than nothing/);
  assert.match(refusalOf('2000'), /too long/);
});

test('a length is shown in lowest terms and reads back as itself', () => {
  assert.equal(showLength(4.5, 'in'), '4 1/2'); // never 4 4/8
  assert.equal(showLength(0.0625, 'in'), '1/16');
  assert.equal(showLength(-0.25, 'in'), '-1/4');
  assert.equal(showLength(0, 'in'), '0');
  assert.equal(showLength(108, 'mm'), '108 mm');
  for (let sixteenths = -160; sixteenths <= 160; sixteenths += 1) {
    assert.equal(valueOf(showLength(sixteenths / 16, 'in'), 'in', 'position'), sixteenths / 16);
    assert.equal(valueOf(showLength(sixteenths / 2, 'mm'), 'mm', 'position'), sixteenths / 2);
  }
});
