// A phone is paired and used as the scanner: by the machine's own network
// address, which to the program is another machine.

import assert from 'node:assert/strict';
import {readFileSync} from 'node:fs';
import {createRequire} from 'node:module';
import {networkInterfaces} from 'node:os';
import {after, afterEach, before, test} from 'node:test';

import {DESKTOP, READ_MS, startBrowser, startProgram} from './program.js';
import {ONE_CARD, OTHER_CARD} from './samples.js';

/** @typedef {import('playwright-core').Page} Page */

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
/** The smallest screen the scanner is made for. */
const SMALL_PHONE = {width: 360, height: 640};
/** What a thumb needs on the way, in CSS px. */
const THUMB_PX = 44;

const network = Object.values(networkInterfaces()).flat().find((one) => one && one.family === 'IPv4' && !one.internal)?.address;
const skip = network ? false : 'NOT TESTED: this machine is on no network, so no phone can come in';

/** @type {import('playwright-core').Browser} */
let browser;
/** @type {Awaited<ReturnType<typeof startProgram>>} */
let program;
/** @type {import('playwright-core').BrowserContext[]} */
let contexts = [];
/** @type {string[]} */
const faults = [];
before(async () => { browser = await startBrowser(); });
after(() => browser.close());
afterEach(async () => {
  for (const context of contexts) await context.close();
  contexts = [];
  await program?.stop();
  assert.deepEqual(faults.splice(0), [], 'no error on any page');
});

const phoneAddress = () => `http://${network}:${new URL(program.address).port}`;
/** @param {string} path @returns {Promise<any>} */
const stored = async (path) => (await fetch(`${program.address}${path}`)).json();
/** @param {string} path */
const posted = async (path) => (await fetch(`${program.address}${path}`, {method: 'POST'})).json();

/** @param {import('playwright-core').BrowserContextOptions} options */
async function newPage(options) {
  const context = await browser.newContext(options);
  contexts.push(context);
  context.setDefaultTimeout(20_000 * Number(process.env.PATIENCE ?? 1));
  const page = await context.newPage();
  page.on('pageerror', (error) => faults.push(error.message));
  page.on('console', (message) => {
    // Without https a browser passes over one of the headers, and says so each time.
    if (message.type() === 'error' && !/Failed to load resource|Cross-Origin-Opener-Policy header has been ignored/.test(message.text())) faults.push(message.text());
  });
  return page;
}

const newPhone = () => newPage({viewport: SMALL_PHONE, hasTouch: true, isMobile: true, reducedMotion: 'reduce'});

/** A phone that is paired, at the scanner. */
async function pairedPhone() {
  const {code} = await posted('/api/pairing/code');
  const phone = await newPhone();
  await phone.goto(`${phoneAddress()}/pair#${code.digits.replace(' ', '')}`);
  await phone.getByRole('button', {name: 'Pair this device'}).click();
  await phone.waitForURL('**/scan');
  await phone.getByText('All four sides of the card').waitFor();
  return phone;
}

/** @param {Page} page @param {string} screen */
async function checkScreen(page, screen) {
  await page.evaluate(AXE);
  const violations = await page.evaluate(async () => {
    const {violations} = await /** @type {any} */ (globalThis).axe.run(document, {
      runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
    });
    return violations.map((/** @type {any} */ one) => `${one.id}: ${one.nodes.map((/** @type {any} */ node) => node.html).join(' | ')}`);
  });
  assert.deepEqual(violations, [], `${screen}: axe`);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
  assert.equal(wide, 0, `${screen}: nothing sticks out to the side`);
}

test('a phone is paired by the code on the computer’s page and let go of there', {skip}, async () => {
  program = await startProgram(['--lan']);
  const desk = await newPage({viewport: DESKTOP});
  await desk.goto(`${program.address}/`);
  await desk.getByRole('link', {name: 'Use a phone'}).click();
  await desk.getByRole('heading', {name: 'Use a phone as the scanner'}).waitFor();
  await desk.getByRole('img', {name: /QR code/}).waitFor();
  const before = await desk.locator('#code-digits').textContent();
  assert.match(await desk.locator('.code-clock').textContent() ?? '', /^(10:00|9:\d\d)$/);
  await desk.getByRole('button', {name: 'New code'}).click();
  await desk.waitForFunction((old) => document.getElementById('code-digits')?.textContent !== old, before);
  await checkScreen(desk, 'phones, no device');
  const digits = await desk.locator('#code-digits').textContent() ?? '';

  const phone = await newPhone();
  await phone.goto(`${phoneAddress()}/`);
  await phone.waitForURL('**/pair');
  await checkScreen(phone, 'pairing');
  await phone.getByLabel('Code').fill('0000 0000');
  await phone.getByRole('button', {name: 'Pair this device'}).click();
  await phone.getByRole('alert').getByText('That is not the code: look again, 4 tries are left.').waitFor();
  await desk.getByText('Tries left: 4').waitFor();
  await phone.goto(`${phoneAddress()}/pair#${digits.replace(' ', '')}`);
  await phone.waitForFunction((wanted) => /** @type {HTMLInputElement} */ (document.getElementById('code')).value === wanted, digits);
  assert.equal(new URL(phone.url()).hash, '', 'the code does not stay in the address');
  await phone.getByLabel('What this device is called').fill('Ruth’s phone');
  await phone.getByRole('button', {name: 'Pair this device'}).click();
  await phone.waitForURL('**/scan');

  await desk.getByRole('heading', {name: 'Ruth’s phone'}).waitFor();
  await desk.locator('#announcer').getByText('“Ruth’s phone” is paired.').waitFor();
  await desk.getByText('The code was used').waitFor();
  await desk.getByText(/here last just now/).waitFor();
  await checkScreen(desk, 'phones, one device');
  await phone.goto(`${phoneAddress()}/#/phone`);
  await phone.getByRole('heading', {name: 'This device is not the computer itself'}).waitFor();

  await desk.getByRole('button', {name: 'End pairing of Ruth’s phone'}).click();
  await desk.getByText('None yet.').waitFor();
  await phone.goto(`${phoneAddress()}/scan`);
  await phone.waitForURL('**/pair');
});

test('a computer that is not on the network says how to get there', async () => {
  program = await startProgram();
  const desk = await newPage({viewport: DESKTOP});
  await desk.goto(`${program.address}/#/phone`);
  await desk.getByText('eighths serve --lan').waitFor();
  await checkScreen(desk, 'phones, closed');
});

test('a shot is seen at once and what was read soon after, on a small screen', {skip}, async () => {
  program = await startProgram(['--lan']);
  const phone = await pairedPhone();
  await checkScreen(phone, 'scanner, empty');
  const button = await phone.locator('#take-label').boundingBox();
  assert.ok(button && button.height >= 2 * THUMB_PX && button.width >= 300, 'one large button');
  assert.ok(button && button.y + button.height <= SMALL_PHONE.height, 'in reach without scrolling');
  assert.equal(await phone.locator('#take').getAttribute('capture'), 'environment');
  await phone.setInputFiles('#take', ONE_CARD.path);
  await phone.getByAltText('The photo you took').waitFor();
  await phone.getByAltText('Drawing of what was read').waitFor({timeout: READ_MS});
  await phone.waitForFunction(() => /** @type {HTMLImageElement | null} */ (document.querySelector('img.drawing'))?.naturalWidth ?? 0 > 0);
  await phone.locator('#announcer').getByText(/in the notebook/i).waitFor();
  await phone.getByText('Keep, next photo').waitFor();
  await checkScreen(phone, 'scanner, one shot');
  for (const name of ['Throw away', 'Finish']) {
    const box = await phone.getByRole('button', {name, exact: true}).boundingBox();
    assert.ok(box && box.height >= THUMB_PX && box.width >= THUMB_PX, name);
  }
  assert.equal((await stored('/api/layouts')).total, 1);
  await phone.getByRole('button', {name: 'Throw away', exact: true}).click();
  await phone.getByText('All four sides of the card').waitFor();
  await waitFor(async () => (await stored('/api/layouts')).total === 0, 'the layout of what is thrown away goes too');
  assert.equal(await phone.evaluate(() => document.activeElement?.id), 'take', 'the next thing is another photo');
});

test('shots taken without a connection wait through a reload and are imported once', {skip}, async () => {
  program = await startProgram(['--lan']);
  const phone = await pairedPhone();
  await phone.context().setOffline(true);
  await phone.setInputFiles('#take', ONE_CARD.path);
  await phone.locator('#count').getByText('1 to be sent').waitFor();
  await phone.getByText(/The computer does not answer/).waitFor();
  await phone.setInputFiles('#take', OTHER_CARD.path);
  await phone.locator('#count').getByText('2 to be sent').waitFor();
  await phone.getByText('Kept on this phone until the computer answers.').first().waitFor();
  await checkScreen(phone, 'scanner, no connection');
  assert.equal((await stored('/api/imports')).total, 0);

  // The answer to the next shot that is sent gets lost on its way.
  await phone.context().addInitScript(() => {
    const send = window.fetch;
    window.fetch = async (input, init) => {
      const response = await send(input, init);
      if (init?.method !== 'POST' || !/\/files$/.test(String(input)) || localStorage.getItem('lost')) return response;
      localStorage.setItem('lost', 'once');
      throw new TypeError('the connection was lost');
    };
  });
  await phone.context().setOffline(false);
  await phone.reload();
  await phone.getByText(/all sent/).waitFor();
  assert.equal(await phone.evaluate(() => localStorage.getItem('lost')), 'once');
  await waitFor(async () => (await stored('/api/imports/1')).counts.files_done === 3, 'both shots, one of them twice');
  assert.equal((await stored('/api/layouts')).total, 2, 'and each is one layout');
  await phone.getByAltText('Drawing of what was read').waitFor({timeout: READ_MS});
  await phone.waitForFunction(() => document.querySelectorAll('.scan-shot a').length === 1);
  await phone.reload();
  await phone.getByText('2 shots, all sent').waitFor();
  assert.equal((await stored('/api/imports')).total, 1, 'a reload goes on with the same import');

  await phone.getByRole('button', {name: 'Finish'}).click();
  await phone.getByText('All four sides of the card').waitFor();
  assert.equal((await stored('/api/imports/1')).state, 'done');
  await phone.reload();
  await phone.getByText('All four sides of the card').waitFor();
});

test('shots of a phone whose pairing was ended wait until it is paired again', {skip}, async () => {
  program = await startProgram(['--lan']);
  const phone = await pairedPhone();
  const {devices} = await stored('/api/pairing');
  await fetch(`${program.address}/api/pairing/devices/${devices[0].id}`, {method: 'DELETE'});
  await phone.setInputFiles('#take', ONE_CARD.path);
  await phone.getByText('This phone is not paired any more.').waitFor();
  const {code} = await posted('/api/pairing/code');
  await phone.getByRole('link', {name: 'Pair it again'}).click();
  await phone.getByLabel('Code').fill(code.digits);
  await phone.getByRole('button', {name: 'Pair this device'}).click();
  await phone.getByText(/all sent/).waitFor();
  await waitFor(async () => (await stored('/api/layouts')).total === 1, 'the shot has arrived');
});

test('shots wait while the program is away, and go to a new import where the old one is gone', {skip}, async () => {
  program = await startProgram(['--lan']);
  const phone = await pairedPhone();
  await phone.setInputFiles('#take', ONE_CARD.path);
  await phone.getByText(/all sent/).waitFor();
  await waitFor(async () => (await stored('/api/imports/1')).counts.files_done === 1, 'it is read');
  await fetch(`${program.address}/api/imports/1`, {
    method: 'PATCH', headers: {'Content-Type': 'application/json'}, body: JSON.stringify({open: false}),
  });
  await phone.setInputFiles('#take', OTHER_CARD.path);
  await waitFor(async () => (await stored('/api/layouts')).total === 2, 'the shot after it is read too');
  assert.equal((await stored('/api/imports')).total, 2);
});

/** @param {() => Promise<boolean>} done @param {string} what */
async function waitFor(done, what) {
  const late = Date.now() + READ_MS;
  while (!await done()) {
    assert.ok(Date.now() < late, what);
    await new Promise((resolve) => setTimeout(resolve, 250));
  }
}
