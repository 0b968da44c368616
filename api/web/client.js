// Talks to the service. Every failure becomes a `Refusal` with one sentence to show.

/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Photo} Photo */
/** @typedef {import('./logic.js').Point} Point */
/** @typedef {{id: string, version: number, etag: string | null, record: Layout}} Stored */
/** @typedef {{name: string, width: number, height: number, unit: 'in' | 'mm'}} Card */
/** @typedef {{photo: Photo, layouts: Layout[]}} Reading */
/** @typedef {{frame?: string, corners?: Point[], card?: string}} ReadOptions */

/** What a layout record is made of; anything else the service adds stays with the service. */
const RECORD_KEYS = ['schema', 'title', 'unit', 'card', 'elements', 'notes', 'tags', 'capture'];
/** A full queue is asked again this often before the person is told. */
const MOST_TRIES = 4;
/** Longest wait between two tries, in seconds. */
const LONGEST_WAIT_S = 10;

/** Why the service did not do what was asked. */
export class Refusal extends Error {
  /**
   * @param {string} message one sentence
   * @param {number} status HTTP status; 0 when there was no answer
   * @param {Record<string, unknown>} [body] the problem details
   */
  constructor(message, status, body = {}) {
    super(message);
    this.status = status;
    this.body = body;
  }
}

/** @returns {Promise<Card[]>} */
export async function listCards() {
  const {body} = await call('GET', '/api/cards');
  return body.cards;
}

/**
 * @param {File} file
 * @param {string} card
 * @param {string} frame `outline` or `photo`
 * @returns {Promise<Reading>}
 */
export async function readPhoto(file, card, frame) {
  const form = new FormData();
  form.append('card', card);
  form.append('frame', frame);
  form.append('photo', file);
  return readingOf(await call('POST', '/api/photos', {form}));
}

/**
 * @param {string} photo
 * @param {ReadOptions} options
 * @returns {Promise<Reading>}
 */
export async function readPhotoAgain(photo, options) {
  return readingOf(await call('POST', `/api/photos/${encodeURIComponent(photo)}/read`, {json: options}));
}

/**
 * A layout worked out again with what was decided held fast.
 * @param {import('./decisions.js').Settled} asked
 * @returns {Promise<Layout>}
 */
export async function settleAgain({record, decided}) {
  const {body} = await call('POST', '/api/settle', {json: {layout: record, ...decided}});
  return body.layout;
}

/** Widest picture the service makes of a photo, in px. */
export const WIDEST_PX = 2560;

/**
 * The address of a photo as a picture at least so wide, where the photo is.
 * @param {string} photo
 * @param {number} width
 */
export const photoUrl = (photo, width) => `/api/photos/${encodeURIComponent(photo)}?width=${width}`;

/**
 * The size of a photo, the right way up; none where it is not in the notebook.
 * @param {string} photo
 * @returns {Promise<Photo | null>}
 */
export async function photoSize(photo) {
  try {
    return (await call('GET', `/api/photos/${encodeURIComponent(photo)}/size`)).body;
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return null;
  }
}

/** Longest side of a tile's picture, in pixels: sharp on a screen of two to a CSS pixel. */
const TILE_PX = 320;

/**
 * The address of a layout's small picture. A picture and no SVG: hundreds
 * scroll by, and an SVG would be laid out where the page is.
 * @param {Stored} stored
 */
export const tilePictureUrl = ({id, version}) => `${pathOf(id)}/versions/${version}/drawing.png?px=${TILE_PX}`;

/**
 * @param {string} id
 * @returns {Promise<Stored>}
 */
export async function openLayout(id) {
  const {body, etag} = await call('GET', pathOf(id));
  return storedOf(body, etag);
}

/**
 * Saves a new layout, or the next version of one.
 * @param {Layout} record
 * @param {string | null} id
 * @param {string | null} ifMatch
 * @returns {Promise<Stored>}
 */
export async function saveLayout(record, id, ifMatch) {
  const {body, etag} = id === null
    ? await call('POST', '/api/layouts', {json: record})
    : await call('PUT', pathOf(id), {json: record, ifMatch});
  return storedOf(body, etag);
}

/**
 * @param {string} id
 * @param {string | null} ifMatch
 */
export async function deleteLayout(id, ifMatch) {
  await call('DELETE', pathOf(id), {ifMatch});
}

/**
 * Brings a deleted layout back as it last was.
 * @param {string} id
 * @returns {Promise<Stored>}
 */
export async function bringBack(id) {
  const history = await call('GET', `${pathOf(id)}/versions`);
  const last = history.body.versions.find((/** @type {{deleted: boolean}} */ one) => !one.deleted);
  const path = `${pathOf(id)}/versions/${last.version}/restore`;
  const {body, etag} = await call('POST', path, {ifMatch: history.etag});
  return storedOf(body, etag);
}

/** @param {string} id */
const pathOf = (id) => `/api/layouts/${encodeURIComponent(id)}`;

/**
 * @param {any} body
 * @param {string | null} etag
 * @returns {Stored}
 */
export function storedOf(body, etag) {
  const whole = body.layout ?? body;
  /** @type {any} */
  const record = Object.fromEntries(RECORD_KEYS.filter((key) => key in whole).map((key) => [key, whole[key]]));
  return {
    id: String(body.id ?? whole.id),
    version: Number(body.version ?? whole.version),
    etag: etag ?? body.etag ?? null,
    record: {title: '', unit: 'in', elements: [], notes: '', tags: [], ...record},
  };
}

/**
 * @param {{body: any}} answer
 * @returns {Reading}
 */
function readingOf({body}) {
  return {photo: body.photo, layouts: body.layouts};
}

/**
 * @param {string} method
 * @param {string} path
 * @param {{json?: unknown, form?: FormData, text?: string, type?: string, ifMatch?: string | null}} [sent] a text has its type
 * @returns {Promise<{body: any, etag: string | null}>}
 */
export async function call(method, path, {json, form, text, type = 'application/json', ifMatch} = {}) {
  /** @type {Record<string, string>} */
  const headers = {Accept: 'application/json, application/problem+json'};
  if (form === undefined && (json ?? text) !== undefined) headers['Content-Type'] = type;
  if (ifMatch) headers['If-Match'] = ifMatch;
  const body = json === undefined ? form ?? text : JSON.stringify(json);
  for (let tries = 1; ; tries += 1) {
    const response = await fetch(path, {method, headers, body}).catch(() => {
      throw new Refusal('The service does not answer. What you did is still here; try again in a moment.', 0);
    });
    if (response.status === 503 && tries < MOST_TRIES) {
      const seconds = Number(response.headers.get('Retry-After') ?? 1) || 1;
      await new Promise((resolve) => setTimeout(resolve, Math.min(seconds, LONGEST_WAIT_S) * 1000));
      continue;
    }
    const answer = await response.json().catch(() => null);
    if (!response.ok) throw new Refusal(sentenceOf(answer, response.status), response.status, answer ?? {});
    return {body: answer, etag: response.headers.get('ETag')};
  }
}

/**
 * The sentence in problem details (RFC 9457), begun and ended as one.
 * @param {any} problem
 * @param {number} status
 */
export function sentenceOf(problem, status) {
  const said = problem?.detail ?? problem?.title;
  // Names of command line options say nothing on a page.
  const text = typeof said === 'string' ? said.replace(/ \(--[^)]*\)/g, '').trim() : '';
  if (text === '') return `The service could not do that (status ${status}). Nothing is lost; try again.`;
  const begun = text[0].toUpperCase() + text.slice(1);
  return /[.?]$/.test(begun) ? begun : `${begun}.`;
}
