// Starts the built program on a folder of its own and a browser beside it.

import {spawn} from 'node:child_process';
import {existsSync, mkdtempSync, readFileSync, rmSync} from 'node:fs';
import {tmpdir} from 'node:os';
import {join} from 'node:path';
import {fileURLToPath} from 'node:url';

import {chromium} from 'playwright-core';

/** @typedef {import('playwright-core').Page} Page */
/** @typedef {import('playwright-core').Browser} Browser */

const ROOT = fileURLToPath(new URL('../../../', import.meta.url));
const PROGRAM = process.env.EIGHTHS ?? join(ROOT, 'target/release/eighths');
const CHROMIUM = process.env.CHROMIUM ?? '/usr/bin/chromium';
/** How many times longer everything may take: `PATIENCE=4` for a machine with much else to do. */
const PATIENCE = Number(process.env.PATIENCE ?? 1);
/** Time for the program to say its address, in ms: a slow machine under load. */
const START_MS = 20_000 * PATIENCE;
/** Time for anything but a reading to show on the page, in ms. */
const STEP_MS = 15_000 * PATIENCE;
/** Time for a photo to be read on two busy cores, in ms. */
export const READ_MS = 60_000 * PATIENCE;

/** Screens the page is made for. */
export const PHONE = {width: 390, height: 844};
export const TABLET = {width: 820, height: 1180};
export const DESKTOP = {width: 1440, height: 900};


/**
 * @param {string[]} [more] further arguments
 * @returns {Promise<{address: string, stop: () => Promise<void>}>}
 */
export async function startProgram(more = []) {
  if (!existsSync(PROGRAM)) throw new Error('no built program: run `cargo build --release` first');
  const data = mkdtempSync(join(tmpdir(), 'eighths-'));
  const program = spawn(PROGRAM, ['serve', '--data', data, '--listen', '127.0.0.1:0', ...more], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  const ended = new Promise((resolve) => program.once('exit', resolve));
  const address = await new Promise((resolve, reject) => {
    let said = '';
    const late = setTimeout(() => reject(new Error(`the program did not say its address: ${said}`)), START_MS);
    program.stdout.on('data', (bytes) => {
      said += bytes;
      const found = /http:\/\/[^\s/]+/.exec(said);
      if (!found) return;
      clearTimeout(late);
      resolve(found[0]);
    });
    program.once('exit', (code) => reject(new Error(`the program ended with ${code}: ${said}`)));
  });
  return {
    address,
    async stop() {
      program.kill('SIGTERM');
      await ended;
      rmSync(data, {recursive: true, force: true});
    },
  };
}

/** @returns {Promise<Browser>} */
export function startBrowser() {
  return chromium.launch({
    executablePath: CHROMIUM,
    args: [
      '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
      '--disable-background-networking', '--disable-component-update', '--disable-sync',
    ],
  });
}

/**
 * A fresh page whose scripts, console and requests are watched: `faults`
 * collects every error and every request to another host.
 * @param {Browser} browser
 * @param {string} address
 * @param {{width: number, height: number}} viewport
 * @param {import('playwright-core').BrowserContextOptions} [more]
 */
export async function openPage(browser, address, viewport, more = {}) {
  const context = await browser.newContext({viewport, ...more});
  context.setDefaultTimeout(STEP_MS);
  const page = await context.newPage();
  /** @type {string[]} */
  const faults = [];
  page.on('pageerror', (error) => faults.push(error.message));
  page.on('console', (message) => {
    // The browser itself reports answers of 4xx; the tests bring those about on purpose.
    if (message.type() === 'error' && !/Failed to load resource/.test(message.text())) faults.push(message.text());
  });
  page.on('request', (request) => {
    if (!/^(data|blob):/.test(request.url()) && !request.url().startsWith(address)) faults.push(`asked ${request.url()}`);
  });
  await page.goto(`${address}/`);
  await page.locator('#notebook .empty:visible, #notebook .tile:visible').first().waitFor();
  return {page, faults};
}

/**
 * Drops files on the page as a person does.
 * @param {Page} page
 * @param {...string} paths
 */
export async function drop(page, ...paths) {
  const files = paths.map((path) => [readFileSync(path).toString('base64'), path.split('/').at(-1) ?? 'photo.jpg']);
  const transfer = await page.evaluateHandle(async (files) => {
    const transfer = new DataTransfer();
    for (const [data, name] of files) {
      const raw = Uint8Array.from(atob(data), (letter) => letter.charCodeAt(0));
      transfer.items.add(new File([raw], name, {type: 'image/jpeg'}));
    }
    return transfer;
  }, files);
  await page.dispatchEvent('body', 'drop', {dataTransfer: transfer});
}

/**
 * Drops files and folders of the disk, as a hand with a mouse does.
 * @param {Page} page
 * @param {...string} paths
 */
export async function dropFolder(page, ...paths) {
  const session = await page.context().newCDPSession(page);
  const data = {items: [], files: paths, dragOperationsMask: 1};
  for (const type of /** @type {const} */ (['dragEnter', 'dragOver', 'drop'])) await session.send('Input.dispatchDragEvent', {type, x: 200, y: 200, data});
  await session.detach();
}

/**
 * Saves a layout that somebody else has changed meanwhile.
 * @param {string} address
 * @param {number} id
 * @param {unknown} layout
 */
export async function saveElsewhere(address, id, layout) {
  const etag = (await fetch(`${address}/api/layouts/${id}`)).headers.get('etag') ?? '';
  const response = await fetch(`${address}/api/layouts/${id}`, {
    method: 'PUT', headers: {'Content-Type': 'application/json', 'If-Match': etag}, body: JSON.stringify(layout),
  });
  if (!response.ok) throw new Error(await response.text());
}
