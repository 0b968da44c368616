// Where shots wait: in the browser's database, so that a lost connection, a
// reload and a flat battery leave them alone. A browser that keeps nothing
// still works; only a reload forgets.

/** @typedef {import('./scan-logic.js').Shot} Shot */
/** @typedef {import('./scan-logic.js').Series} Series */
/** @typedef {{bytes: ArrayBuffer, type: string}} Picture */
/**
 * @typedef {object} ScanStore
 * @property {boolean} lasting whether a reload finds everything again
 * @property {() => Promise<Shot[]>} shots
 * @property {(shot: Shot, picture?: Picture | null) => Promise<void>} put with its picture, or `null` to let that go
 * @property {(id: string) => Promise<void>} remove
 * @property {(id: string) => Promise<Picture | undefined>} picture
 * @property {() => Promise<Series | undefined>} series
 * @property {(series: Series) => Promise<void>} putSeries
 */

const [NAME, FORM] = ['eighths.scan', 1];

/** @returns {Promise<ScanStore>} */
export async function openStore() {
  const database = await open().catch(() => null);
  return database ? lastingStore(database) : passingStore();
}

/** @returns {Promise<IDBDatabase>} */
function open() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, FORM);
    request.onupgradeneeded = () => {
      request.result.createObjectStore('shots', {keyPath: 'id'});
      request.result.createObjectStore('pictures');
      request.result.createObjectStore('series');
    };
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error('blocked'));
  });
}

/** @param {IDBDatabase} database @returns {ScanStore} */
function lastingStore(database) {
  /**
   * @template T
   * @param {string[]} stores
   * @param {IDBTransactionMode} mode
   * @param {(store: (name: string) => IDBObjectStore) => IDBRequest<T> | void} run
   * @returns {Promise<T>} once it is on disk
   */
  const transact = (stores, mode, run) => new Promise((resolve, reject) => {
    const transaction = database.transaction(stores, mode);
    const request = run((name) => transaction.objectStore(name));
    transaction.oncomplete = () => resolve(/** @type {T} */ (request?.result));
    transaction.onabort = () => reject(transaction.error);
    transaction.onerror = () => reject(transaction.error);
  });
  return {
    lasting: true,
    shots: () => transact(['shots'], 'readonly', (store) => store('shots').getAll()),
    put: (shot, picture) => transact(['shots', 'pictures'], 'readwrite', (store) => {
      store('shots').put(shot);
      if (picture) store('pictures').put(picture, shot.id);
      else if (picture === null) store('pictures').delete(shot.id);
    }),
    remove: (id) => transact(['shots', 'pictures'], 'readwrite', (store) => {
      store('shots').delete(id);
      store('pictures').delete(id);
    }),
    picture: (id) => transact(['pictures'], 'readonly', (store) => store('pictures').get(id)),
    series: () => transact(['series'], 'readonly', (store) => store('series').get('open')),
    putSeries: (series) => transact(['series'], 'readwrite', (store) => { store('series').put(series, 'open'); }),
  };
}

/** @returns {ScanStore} */
function passingStore() {
  /** @type {Map<string, Shot>} */
  const shots = new Map();
  /** @type {Map<string, Picture>} */
  const pictures = new Map();
  /** @type {Series | undefined} */
  let series;
  return {
    lasting: false,
    shots: async () => [...shots.values()],
    async put(shot, picture) {
      shots.set(shot.id, shot);
      if (picture) pictures.set(shot.id, picture);
      else if (picture === null) pictures.delete(shot.id);
    },
    async remove(id) {
      shots.delete(id);
      pictures.delete(id);
    },
    picture: async (id) => pictures.get(id),
    series: async () => series,
    async putSeries(next) { series = next; },
  };
}
