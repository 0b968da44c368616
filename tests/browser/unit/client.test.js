import assert from 'node:assert/strict';
import {afterEach, mock, test} from 'node:test';

import * as client from '../../../api/web/client.js';
import {getWell} from './samples.js';

afterEach(() => mock.restoreAll());

/** @param {number} status @param {unknown} body @param {Record<string, string>} [headers] */
function answer(status, body, headers = {}) {
  return new Response(body === null ? null : JSON.stringify(body), {status, headers});
}

test('problem details become one sentence', () => {
  assert.equal(
    client.sentenceOf({title: 'Not read', detail: 'no card outline found: show all four sides'}, 422),
    'No card outline found: show all four sides.',
  );
  assert.equal(client.sentenceOf({detail: 'say that the photo is the card (--frame photo)'}, 422), 'Say that the photo is the card.');
  assert.equal(client.sentenceOf({title: 'Gone'}, 404), 'Gone.');
  assert.match(client.sentenceOf(null, 500), /Nothing is lost/);
});

test('a refusal carries its sentence, status and body', async () => {
  mock.method(globalThis, 'fetch', async () => answer(422, {detail: 'no outline', photo: {id: 'p', width: 3, height: 2}}));
  await assert.rejects(client.readPhotoAgain('p', {}), (error) => {
    assert.ok(error instanceof client.Refusal);
    assert.equal(error.status, 422);
    assert.equal(error.message, 'No outline.');
    assert.deepEqual(error.body.photo, {id: 'p', width: 3, height: 2});
    return true;
  });
});

test('a service that is away is told in words', async () => {
  mock.method(globalThis, 'fetch', async () => { throw new TypeError('failed to fetch'); });
  await assert.rejects(client.openLayout('7'), /does not answer\. What you did is still here/);
});

test('a full queue is asked again after the time it names', async () => {
  const answers = [answer(503, {detail: 'busy'}, {'Retry-After': '0.01'}), answer(200, {cards: []})];
  const fetched = mock.method(globalThis, 'fetch', async () => answers.shift());
  assert.deepEqual(await client.listCards(), []);
  assert.equal(fetched.mock.callCount(), 2);
});

test('a change names the version it changes, and keeps the record to itself', async () => {
  const fetched = mock.method(globalThis, 'fetch', async () =>
    answer(200, {id: 7, version: 3, saved_at: 'now', ...getWell()}, {ETag: '"7-3"'}));
  const stored = await client.saveLayout(getWell(), '7', '"7-2"');
  const [path, request] = /** @type {any} */ (fetched.mock.calls[0].arguments);
  assert.equal(path, '/api/layouts/7');
  assert.equal(request.method, 'PUT');
  assert.equal(request.headers['If-Match'], '"7-2"');
  assert.deepEqual(stored, {id: '7', version: 3, etag: '"7-3"', record: getWell()});
});
