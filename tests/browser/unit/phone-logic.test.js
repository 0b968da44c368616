import assert from 'node:assert/strict';
import {test} from 'node:test';

import * as logic from '../../../api/web/phone-logic.js';

test('the time left is shown as a clock and never below nothing', () => {
  assert.deepEqual([600, 599.2, 61, 59, 0.4, 0, -3].map(logic.clockWords), ['10:00', '10:00', '1:01', '0:59', '0:01', '0:00', '0:00']);
});

test('a device was seen just now, some time ago, or on a day', () => {
  const now = new Date('2026-11-27T12:00:00Z');
  const seen = (/** @type {string} */ iso) => logic.seenWords(iso, now);
  assert.equal(seen('2026-11-27T11:59:00Z'), 'just now');
  assert.equal(seen('2026-11-27T11:30:00Z'), '30 minutes ago');
  assert.equal(seen('2026-11-27T11:00:00Z'), 'an hour ago');
  assert.equal(seen('2026-11-27T03:59:00Z'), '8 hours ago');
  assert.match(seen('2026-11-20T12:00:00Z'), /^on (19|20|21) Nov 2026$/, 'on the day of the reader’s own clock');
  assert.equal(seen('2026-11-27T12:00:30Z'), 'just now', 'a clock that is a little ahead');
});

test('devices that came in since are told', () => {
  const device = (/** @type {number} */ id) => ({id, name: `phone ${id}`, paired_at: '', seen_at: ''});
  assert.deepEqual(logic.newDevices([device(1)], [device(2), device(1)]), [device(2)]);
  assert.deepEqual(logic.newDevices([device(1)], []), []);
  assert.deepEqual(logic.newDevices(undefined, [device(1)]), [], 'at the first look nobody is new');
});

test('a QR code is drawn on white of its own', () => {
  const drawing = logic.qrDrawing({side: 37, path: 'M4 4h7v1h-7z'});
  assert.equal(drawing.attributes.viewBox, '0 0 37 37');
  assert.deepEqual(drawing.children?.map(({attributes}) => attributes.fill), ['#fff', '#000']);
});
