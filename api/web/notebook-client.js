// What the notebook, the versions and the printing ask of the service.

import {call, storedOf} from './client.js';

/** @typedef {import('./client.js').Stored} Stored */
/** @typedef {import('./notebook-logic.js').Shelf} Shelf */
/** @typedef {import('./notebook-logic.js').Shelved} Shelved */
/** @typedef {{version: number, saved_at: string, deleted: boolean, title: string | null, etag: string}} Version */
/** @typedef {{tag: string, layouts: number}} Tag */

/** @param {string} id */
const pathOf = (id) => `/api/layouts/${encodeURIComponent(id)}`;

/** @param {any} body @returns {Shelf} */
const shelfOf = (body) => ({favourite: body.favourite, uses: body.uses, lastUsed: body.last_used});

/**
 * @param {URLSearchParams} params
 * @param {number} limit
 * @param {string | null} after
 * @returns {Promise<{layouts: Shelved[], total: number}>}
 */
export async function findLayouts(params, limit, after) {
  const query = new URLSearchParams(params);
  query.set('limit', String(limit));
  if (after) query.set('after', after);
  const {body} = await call('GET', `/api/layouts?${query}`);
  const layouts = body.layouts.map((/** @type {any} */ one) => ({...storedOf(one, null), shelf: shelfOf(one)}));
  return {layouts, total: body.total};
}

/** @returns {Promise<Tag[]>} */
export async function listTags() {
  return (await call('GET', '/api/tags')).body.tags;
}

/** @param {string} id */
export async function openShelf(id) {
  return shelfOf((await call('GET', pathOf(id))).body);
}

/** @param {string} id @param {boolean} favourite */
export async function setFavourite(id, favourite) {
  return shelfOf((await call(favourite ? 'PUT' : 'DELETE', `${pathOf(id)}/favourite`)).body);
}

/** @param {string} id @param {boolean} used whether it was used, or a use is taken back */
export async function countUse(id, used) {
  return shelfOf((await call(used ? 'POST' : 'DELETE', `${pathOf(id)}/uses`)).body);
}

/** @param {string[]} ids @param {string[]} add @param {string[]} remove */
export async function tagLayouts(ids, add, remove) {
  await call('POST', '/api/layouts/tags', {json: {ids: ids.map(Number), add, remove}});
}

/** @param {string[]} ids */
export async function deleteLayouts(ids) {
  await call('POST', '/api/layouts/deletions', {json: {ids: ids.map(Number)}});
}

/** @param {string[]} ids */
export async function bringBackLayouts(ids) {
  await call('POST', '/api/layouts/restorations', {json: {ids: ids.map(Number)}});
}

/** @param {unknown} record as a file had it @returns {Promise<Stored>} */
export async function bringIn(record) {
  const {body, etag} = await call('POST', '/api/layouts', {json: record});
  return storedOf(body, etag);
}

/** @param {string} id @returns {Promise<Version[]>} newest first */
export async function listVersions(id) {
  return (await call('GET', `${pathOf(id)}/versions`)).body.versions;
}

/** @param {string} id @param {number} version */
export async function openVersion(id, version) {
  return storedOf((await call('GET', `${pathOf(id)}/versions/${version}`)).body, null).record;
}

/** @param {string} id @param {number} version @param {string | null} ifMatch @returns {Promise<Stored>} */
export async function restoreVersion(id, version, ifMatch) {
  const {body, etag} = await call('POST', `${pathOf(id)}/versions/${version}/restore`, {ifMatch});
  return storedOf(body, etag);
}

/** @param {string} id @param {number} version */
export const versionUrl = (id, version) => `${pathOf(id)}/versions/${version}/drawing.svg?sizes=true`;

/** @param {string} id @param {'pdf' | 'png' | 'svg'} form @param {string} paper empty for the usual one */
export function printUrl(id, form, paper = '') {
  const query = form === 'svg' ? '?dimensions=true' : paper ? `?paper=${paper}` : '';
  return `${pathOf(id)}/drawing.${form}${query}`;
}

/** @param {string[]} ids @param {string} perPage @param {string} paper */
export function printAllUrl(ids, perPage, paper) {
  return `/api/layouts/print.pdf?${new URLSearchParams({ids: ids.join(','), per_page: perPage, ...(paper ? {paper} : {})})}`;
}
