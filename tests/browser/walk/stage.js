// What each walk stands on: one browser for a file, and for every test a
// program with an empty notebook of its own and a page that is watched.

import assert from 'node:assert/strict';
import {after, afterEach, before, beforeEach} from 'node:test';

import {openPage, startBrowser, startProgram} from './program.js';

/** @typedef {import('playwright-core').Page} Page */

/** @type {import('playwright-core').Browser} */
export let browser;
/** @type {Awaited<ReturnType<typeof startProgram>>} */
export let program;
/** @type {Page} The page that the test looks at. */
export let page;
/** @type {string[]} Errors on it, and requests to other hosts. */
let faults = [];

/** @param {(address: string) => Promise<unknown>} [prepare] what the notebook begins with */
export function setStage(prepare) {
  before(async () => { browser = await startBrowser(); });
  after(() => browser.close());
  beforeEach(async () => {
    program = await startProgram();
    await prepare?.(program.address);
  });
  afterEach(async () => {
    await page?.context().close();
    await program.stop();
    assert.deepEqual(faults, [], 'no error on the page, no request to another host');
  });
}

/**
 * Opens the notebook.
 * @param {{width: number, height: number}} screen
 * @param {import('playwright-core').BrowserContextOptions} [more]
 */
export async function enter(screen, more) {
  ({page, faults} = await openPage(browser, program.address, screen, more));
}

/** @param {Page} other looked at from here on */
export function turnTo(other) {
  page = other;
}
