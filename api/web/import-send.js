// Sends files to an import, some at a time and each once. A connection that is
// lost is waited for; what had arrived by then is not sent again.

import {Refusal} from './client.js';

/** @typedef {import('./import-logic.js').Import} Import */
/** @typedef {{file: Blob, name: string, size: number}} SentFile */
/** @typedef {(method: string, path: string, options?: {form?: FormData, json?: unknown}) => Promise<{body: any}>} Call */
/**
 * @typedef {object} Line What is sent over.
 * @property {Call} call
 * @property {AbortSignal} signal that nothing more is to be sent
 * @property {(trouble: string) => void} waiting told why nothing goes on; empty once it does
 * @property {(ms: number) => Promise<void>} rest
 */

/** Rests between tries, in ms: each twice as long as the one before. */
const [FIRST_REST_MS, LONGEST_REST_MS] = [1_000, 30_000];

/** Whether trying again may help. @param {unknown} error @returns {error is Refusal} */
const passes = (error) => error instanceof Refusal && (error.status === 0 || error.status === 408 || error.status >= 500);

/**
 * Does something until it is done or refused for good.
 * @template T
 * @param {Line} line
 * @param {() => Promise<T>} run
 * @returns {Promise<T>}
 */
async function persist({signal, waiting, rest}, run) {
  for (let pause = FIRST_REST_MS; ; pause = Math.min(2 * pause, LONGEST_REST_MS)) {
    signal.throwIfAborted();
    try {
      const result = await run();
      waiting('');
      return result;
    } catch (error) {
      if (!passes(error)) throw error;
      waiting(error.message);
      await rest(pause);
    }
  }
}

/**
 * Begins an import without files, so that it is known where they go.
 * @param {Line} line
 * @param {[string, string][]} fields which card they are for
 * @returns {Promise<Import>}
 */
export async function begin(line, fields) {
  const newest = async () => /** @type {Import | undefined} */ ((await line.call('GET', '/api/imports')).body.imports[0]);
  const before = await persist(line, newest);
  let tried = false;
  return persist(line, async () => {
    if (tried) {
      // It may have been begun, and only the answer was lost.
      const now = await newest();
      if (now && now.id > (before?.id ?? 0) && now.open && now.counts.files === 0) return now;
    }
    tried = true;
    const form = new FormData();
    form.append('open', 'true');
    for (const [name, value] of fields) form.append(name, value);
    return (await line.call('POST', '/api/imports', {form})).body;
  });
}

/**
 * Sends groups of files; the last closes the import.
 * @param {Line} line
 * @param {Import} begun
 * @param {SentFile[][]} groups
 * @param {(now: Import, sent: number) => void} told after each group, with how many files were sent so far
 * @returns {Promise<string[]>} names of files that could not be read any more
 */
export async function sendAll(line, begun, groups, told) {
  const path = `/api/imports/${begun.id}`;
  /** @type {string[]} */
  const lost = [];
  let now = begun;
  let sent = 0;
  for (const [at, whole] of groups.entries()) {
    let group = whole;
    let tried = false;
    now = await persist(line, async () => {
      if (tried) {
        const answer = /** @type {Import} */ ((await line.call('GET', path)).body);
        if (answer.counts.files > now.counts.files) return answer;
        const there = await Promise.all(group.map(isThere));
        lost.push(...group.filter((_, k) => !there[k]).map(({name}) => name));
        group = group.filter((_, k) => there[k]);
      }
      tried = true;
      const last = at === groups.length - 1;
      if (group.length === 0) return last ? (await line.call('PATCH', path, {json: {open: false}})).body : now;
      const form = new FormData();
      form.append('open', String(!last));
      for (const {file, name} of group) form.append('file', file, name);
      return (await line.call('POST', `${path}/files`, {form})).body;
    });
    sent += whole.length;
    told(now, sent);
  }
  return lost;
}

/** Whether a file can still be read: it may have been moved since it was chosen. @param {SentFile} sent */
const isThere = ({file}) => file.slice(0, 1).arrayBuffer().then(() => true, () => false);
