// Sends shots in the background, one after another, to one open import, and
// asks what was read of them. What fails for want of a connection is tried
// again, each time after a longer rest, and at once when the network is back.

import {call, Refusal} from './client.js';
import {asked, NEW_SERIES, newShot, unheard, unsent, waitMs, withResults} from './scan-logic.js';

/** @typedef {import('./scan-logic.js').Shot} Shot */
/** @typedef {import('./scan-logic.js').Series} Series */
/** @typedef {import('./scan-store.js').ScanStore} ScanStore */
/** @typedef {{shots: Shot[], card: string, away: boolean, unpaired: boolean, open: boolean, finishing: boolean, fault: string}} Told */

/** Longest time one shot may take on its way, in ms: 40 MB over a poor network. */
const SENDING_MS = 180_000;
/** Rest between two questions for what was read, in ms. */
const ASK_MS = 1_200;

/**
 * @param {ScanStore} store
 * @param {(told: Told) => void} changed
 */
export async function startSender(store, changed) {
  let shots = await store.shots();
  /** @type {Series} */
  let series = {...NEW_SERIES, ...await store.series()};
  let [tries, away, unpaired, running, again, fault] = [0, false, false, false, false, ''];
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;

  const tell = () => changed({
    shots, card: series.card, away, unpaired, open: series.import !== null || shots.length > 0, finishing: series.finishing, fault,
  });

  /** @param {Partial<Series>} change */
  async function setSeries(change) {
    series = {...series, ...change};
    await store.putSeries(series);
  }

  /** @param {string} id @param {Partial<Shot>} change @param {null} [picture] lets its picture go */
  async function change(id, change, picture) {
    shots = shots.map((shot) => (shot.id === id ? {...shot, ...change} : shot));
    const shot = shots.find((one) => one.id === id);
    if (shot) await store.put(shot, picture);
    tell();
  }

  /** @param {string} id */
  async function forget(id) {
    shots = shots.filter((shot) => shot.id !== id);
    await store.remove(id);
    tell();
  }

  /** @param {string} method @param {string} path @param {{json?: unknown, form?: FormData}} [sent] */
  const ask = (method, path, sent) => Promise.race([
    call(method, path, sent),
    /** @type {Promise<never>} */ (new Promise((_, reject) => {
      setTimeout(() => reject(new Refusal('The computer does not answer.', 0)), SENDING_MS);
    })),
  ]);

  /** The import that takes a shot for this card. @param {string} card */
  async function importFor(card) {
    if (series.import !== null && series.card === card) return series.import;
    if (series.import !== null) await close(series.import);
    const begun = series.beginning ? unheard((await ask('GET', '/api/imports')).body.imports, card) : null;
    const id = begun ?? await begin(card);
    await setSeries({import: id, card, beginning: false});
    return id;
  }

  /** @param {string} card @returns {Promise<number>} */
  async function begin(card) {
    await setSeries({beginning: true});
    const form = new FormData();
    form.append('open', 'true');
    form.append('card', card);
    return (await ask('POST', '/api/imports', {form})).body.id;
  }

  /** Says that no more shots will come. @param {number} id */
  async function close(id) {
    await ask('PATCH', `/api/imports/${id}`, {json: {open: false}}).catch(passOver(404, 409));
    await setSeries({import: null});
  }

  /** @param {Shot} shot */
  async function send(shot) {
    const picture = await store.picture(shot.id);
    if (!picture) {
      await change(shot.id, {state: 'refused', fault: 'This phone has lost the picture. Take it again.'});
      return;
    }
    const id = await importFor(shot.card);
    const form = new FormData();
    form.append('open', 'true');
    form.append('file', new Blob([picture.bytes], {type: picture.type}), shot.name);
    try {
      await ask('POST', `/api/imports/${id}/files`, {form});
    } catch (error) {
      // The import is over or gone: a new one is begun for this shot.
      if (!(error instanceof Refusal) || ![404, 409].includes(error.status)) throw error;
      await setSeries({import: null});
      return;
    }
    await change(shot.id, {state: 'sent', import: id}, null);
  }

  /** Asks for what was read, and lets go of what was thrown away meanwhile. */
  async function results() {
    for (const {id} of shots.filter(({thrown, state}) => thrown && state === 'waiting')) await forget(id);
    for (const id of asked(shots)) {
      for (let after = 0; ;) {
        const {body} = await ask('GET', `/api/imports/${id}/files?limit=500&after=${after}`);
        const before = shots;
        shots = withResults(shots, id, body.files);
        for (const shot of shots) if (!before.includes(shot)) await store.put(shot);
        if (body.files.length < 500) break;
        after = body.files.at(-1).sequence;
      }
    }
    for (const {id, result} of shots.filter(({thrown, state}) => thrown && state === 'read')) {
      const ids = result?.layouts ?? [];
      if (ids.length > 0) await ask('POST', '/api/layouts/deletions', {json: {ids}}).catch(passOver(404));
      await forget(id);
    }
    tell();
  }

  async function work() {
    for (let next = unsent(shots).at(0); next; next = unsent(shots).at(0)) {
      const {id} = next;
      try {
        await send(next);
      } catch (error) {
        if (!(error instanceof Refusal) || !isFinal(error.status)) throw error;
        await change(id, {state: 'refused', fault: error.message});
      }
      [tries, away] = [0, false];
      tell();
    }
    await results();
    if (series.finishing && unsent(shots).length === 0 && asked(shots).length === 0) {
      if (series.import !== null) await close(series.import);
      await setSeries({finishing: false});
      for (const shot of shots) if (shot.state === 'read') await forget(shot.id);
    }
    [tries, away, unpaired] = [0, false, false];
  }

  async function run() {
    clearTimeout(timer);
    if (running) {
      again = true;
      return;
    }
    running = true;
    let rest = 0;
    try {
      do {
        again = false;
        await work();
      } while (again);
      rest = asked(shots).length > 0 ? ASK_MS : 0;
      fault = '';
    } catch (error) {
      tries += 1;
      rest = waitMs(tries);
      unpaired = error instanceof Refusal && error.status === 401;
      away = !unpaired;
      fault = error instanceof Refusal ? '' : `${error instanceof Error ? error.message : error}`;
    } finally {
      running = false;
    }
    tell();
    clearTimeout(timer);
    if (rest > 0) timer = setTimeout(run, rest);
  }

  const atOnce = () => {
    tries = 0;
    void run();
  };
  window.addEventListener('online', atOnce);
  document.addEventListener('visibilitychange', () => { if (!document.hidden) atOnce(); });
  tell();
  void run();

  return {
    /**
     * Keeps a shot and sends it.
     * @param {Blob} file
     * @param {string} card
     * @param {Promise<ArrayBuffer | null>} thumb
     * @param {(name: string) => void} named is told what it is called before anything else is
     * @returns {Promise<string>} the same, once the shot is kept
     */
    async add(file, card, thumb, named) {
      if (series.finishing) await setSeries({finishing: false});
      const shot = newShot(madeId(), new Date(), file.type, card, shots);
      named(shot.name);
      // Kept before it is counted: what is counted can be sent.
      await store.put(shot, {bytes: await file.arrayBuffer(), type: file.type});
      shots = [...shots, shot];
      tell();
      void run();
      const small = await thumb;
      if (small) await change(shot.id, {thumb: small});
      return shot.name;
    },
    /** @param {string} id */
    async throwAway(id) {
      const shot = shots.find((one) => one.id === id);
      if (!shot) return;
      if (shot.state === 'refused' || (shot.state === 'waiting' && !running)) await forget(id);
      // One that is on its way is let go of when it has arrived.
      else await change(id, {thrown: true});
      void run();
    },
    /** No more shots will come in this series. */
    async finish() {
      await setSeries({finishing: true});
      tell();
      void run();
    },
  };
}

/** Whether asking again would get the same answer. @param {number} status */
const isFinal = (status) => status >= 400 && status < 500 && ![401, 408, 421, 429].includes(status);

/** @param {...number} statuses that say what is wanted already */
const passOver = (...statuses) => (/** @type {unknown} */ error) => {
  if (!(error instanceof Refusal) || !statuses.includes(error.status)) throw error;
  return {body: null, etag: null};
};

/** An id of 128 random bits. (`randomUUID` is only there where there is https.) */
function madeId() {
  return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, '0')).join('');
}
