import assert from 'node:assert/strict';
import {test} from 'node:test';

import {Refusal} from '../../../api/web/client.js';
import {begin, sendAll} from '../../../api/web/import-send.js';

/** A service that keeps what it is sent, and loses some answers. @param {string[]} faults what happens to each call that changes something: `lost` before it, `silent` after it */
function service(faults = []) {
  const kept = {files: /** @type {string[]} */ ([]), open: true, begun: 0, rests: /** @type {number[]} */ ([]), troubles: /** @type {string[]} */ ([])};
  const now = () => ({id: 7, open: kept.open, counts: {files: kept.files.length}});
  const ending = new AbortController();
  const line = {
    signal: ending.signal,
    rest: async (/** @type {number} */ ms) => void kept.rests.push(ms),
    waiting: (/** @type {string} */ trouble) => void kept.troubles.push(trouble),
    async call(/** @type {string} */ method, /** @type {string} */ path, /** @type {{form?: FormData, json?: any}} */ {form, json} = {}) {
      if (method === 'GET') return {body: path === '/api/imports' ? {imports: kept.begun > 0 ? [now()] : []} : now()};
      const fault = faults.shift();
      if (fault === 'lost') throw new Refusal('away', 0);
      if (fault === 'ended') throw new Refusal('import 7 has ended', 409);
      if (path === '/api/imports') kept.begun += 1;
      kept.files.push(...(form?.getAll('file') ?? []).map((file) => /** @type {File} */ (file).name));
      const open = form?.get('open') ?? json?.open;
      kept.open = String(open) === 'true';
      if (fault === 'silent') throw new Refusal('away', 0);
      return {body: now()};
    },
  };
  return {kept, line, ending};
}

/** @param {string} name */
const sent = (name) => ({file: new Blob(['x']), name, size: 1});
const THREE = [[sent('a/1.jpg'), sent('2.jpg')], [sent('3.jpg')]];

test('files arrive once and in order, whatever happens to the answers', async () => {
  for (const faults of [[], ['', 'lost', '', 'silent'], ['silent', 'silent', 'lost', 'lost', ''], ['lost', '', 'silent', 'silent']]) {
    const {kept, line} = service([...faults]);
    const begun = await begin(line, [['card', 'A2']]);
    /** @type {number[]} */
    const told = [];
    const lost = await sendAll(line, begun, THREE, (_, count) => told.push(count));
    assert.deepEqual([kept.files, kept.open, kept.begun, told, lost], [['a/1.jpg', '2.jpg', '3.jpg'], false, 1, [2, 3], []], faults.join());
  }
});

test('rests between tries grow, and the trouble is told and taken back', async () => {
  const {kept, line} = service(['', 'lost', 'lost', 'lost', '']);
  await sendAll(line, await begin(line, []), [[sent('1.jpg')]], () => {});
  assert.deepEqual(kept.rests, [1000, 2000, 4000]);
  assert.deepEqual(kept.troubles.slice(-2), ['away', '']);
});

test('a file that is gone stays behind, and the import is closed all the same', async () => {
  class Moved extends Blob {
    /** @returns {Blob} */
    slice() {
      return Object.assign(new Blob(), {arrayBuffer: () => Promise.reject(new Error('moved'))});
    }
  }
  const gone = {file: new Moved(['x']), name: 'gone.jpg', size: 1};
  const {kept, line} = service([]);
  const begun = await begin(line, []);
  const {call} = line;
  // A browser cannot send what it cannot read, and says no more than that.
  line.call = async (method, path, options = {}) => {
    if (method === 'POST') throw new Refusal('away', 0);
    return call(method, path, options);
  };
  const lost = await sendAll(line, begun, [[gone]], () => {});
  assert.deepEqual([lost, kept.open, kept.files], [['gone.jpg'], false, []]);
});

test('a refusal for good ends the sending, and so does the person', async () => {
  const first = service(['', 'ended']);
  await assert.rejects(sendAll(first.line, await begin(first.line, []), THREE, () => {}), /has ended/);
  const second = service([]);
  const begun = await begin(second.line, []);
  await assert.rejects(sendAll(second.line, begun, THREE, () => second.ending.abort()), {name: 'AbortError'});
  assert.deepEqual(second.kept.files, ['a/1.jpg', '2.jpg']);
});
