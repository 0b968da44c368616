// Two windows on one layout, and a service that goes away: nothing is lost and
// everything is said.

import assert from 'node:assert/strict';
import {test} from 'node:test';

import {DESKTOP, drop, PHONE, READ_MS, saveElsewhere} from './program.js';
import {ONE_CARD, saveLayout, THANK_YOU} from './samples.js';
import {enter, page, program, setStage, turnTo} from './stage.js';

/** @typedef {import('playwright-core').Page} Page */

setStage((address) => saveLayout(address, THANK_YOU));

const stored = async (id = 1) => (await fetch(`${program.address}/api/layouts/${id}`)).json();
const button = (/** @type {string | RegExp} */ name) => page.getByRole('button', {name, exact: true});
const widthOf = (/** @type {Page} */ where, /** @type {string} */ name) => where.getByLabel(`Width of ${name}`, {exact: true});
/** Theirs: a narrower banner and another paper for the circle. */
const THEIRS = {
  ...THANK_YOU,
  elements: THANK_YOU.elements.map((one) => (one.id === 3 ? {...one, width: 2.25} : one.id === 4 ? {...one, slot: 'F'} : one)),
};

async function open(screen = DESKTOP) {
  await enter(screen);
  await page.getByRole('link', {name: THANK_YOU.title}).click();
  await page.locator('.element-row').first().waitFor();
}

test('two windows: the second save sees both versions and puts them together part by part', async () => {
  await open();
  const other = await page.context().newPage();
  await other.goto(page.url());
  await widthOf(other, '3 Banner').fill('2 1/4');
  await widthOf(other, '3 Banner').press('Enter');
  await widthOf(other, '4 Circle').fill('1 3/4');
  await widthOf(other, '4 Circle').press('Enter');
  await other.getByRole('button', {name: 'Save changes'}).click();
  await other.locator('.message').getByText('Saved.').waitFor();

  await widthOf(page, '2 Panel').fill('3 1/2');
  await widthOf(page, '2 Panel').press('Enter');
  await widthOf(page, '3 Banner').fill('3');
  await widthOf(page, '3 Banner').press('Enter');
  await button('Save changes').click();
  const dialog = page.getByRole('dialog', {name: 'Changed somewhere else'});
  await dialog.waitFor();
  assert.equal(await dialog.locator('.versions svg').count(), 3, 'yours, theirs and both together are drawn');
  await dialog.getByRole('group', {name: '3 Banner: changed in both'}).getByRole('radio', {name: /^Saved elsewhere/}).check();
  await dialog.getByRole('button', {name: 'Save together'}).click();
  await page.locator('.message').getByText('Saved.').waitFor();
  const {elements, version} = await stored();
  assert.deepEqual([elements[1].width, elements[2].width, elements[3].width, version], [3.5, 2.25, 1.75, 3]);
  await button('Undo').click();
  assert.equal(await widthOf(page, '3 Banner').inputValue(), '3', 'mine is one undo away');
});

test('edits wait in the browser while the service is away, outlive the window, and are saved on return', async () => {
  await open(PHONE);
  const context = page.context();
  await widthOf(page, '3 Banner').fill('3');
  await widthOf(page, '3 Banner').press('Enter');
  // The page itself still loads: only the service's answers are missing.
  await context.route('**/api/**', (route) => route.abort());
  await button('Save changes').click();
  await page.getByText('1 save waits in this browser').waitFor();
  await page.close();
  turnTo(await context.newPage());
  await page.goto(`${program.address}/`);
  await page.getByText('1 save waits in this browser').waitFor();
  await context.unroute('**/api/**');
  await button('Try now').click();
  await page.getByText('The service is back: 1 layout saved.').first().waitFor();
  await page.getByText('waits in this browser').waitFor({state: 'hidden'});
  assert.equal((await stored()).elements[2].width, 3);
});

test('a new layout waits as well, and is saved once', async () => {
  await enter(PHONE);
  await page.locator('#card').selectOption(ONE_CARD.card);
  await drop(page, ONE_CARD.path);
  await button('Save layout').waitFor({timeout: READ_MS});
  await page.context().setOffline(true);
  await button('Save layout').click();
  await page.getByText('1 save waits in this browser').waitFor();
  assert.equal(await button('Save layout').isDisabled(), true, 'what waits is not sent twice');
  await page.context().setOffline(false);
  await page.locator('.tile').nth(1).waitFor();
  assert.equal((await (await fetch(`${program.address}/api/layouts`)).json()).total, 2);
});

test('a save that waited too long is a choice between two versions, not a loss', async () => {
  await open();
  await widthOf(page, '3 Banner').fill('3');
  await widthOf(page, '3 Banner').press('Enter');
  await page.context().setOffline(true);
  await button('Save changes').click();
  await page.getByText('1 save waits in this browser').waitFor();
  await page.getByRole('link', {name: 'Your layouts'}).click();
  await saveElsewhere(program.address, 1, THEIRS);
  await page.context().setOffline(false);
  await page.getByText('was also changed somewhere else').waitFor();
  await page.getByRole('link', {name: 'Look and choose'}).click();
  const dialog = page.getByRole('dialog', {name: 'Changed somewhere else'});
  await dialog.getByRole('button', {name: 'Save together'}).click();
  await page.locator('.message').getByText('Saved.').waitFor();
  const {elements} = await stored();
  assert.deepEqual([elements[2].width, elements[3].slot], [3, 'F']);
  await page.getByText('was also changed somewhere else').waitFor({state: 'hidden'});
});

test('a layout that was deleted elsewhere is saved as a new one', async () => {
  await open();
  await widthOf(page, '3 Banner').fill('3');
  await widthOf(page, '3 Banner').press('Enter');
  const etag = (await fetch(`${program.address}/api/layouts/1`)).headers.get('etag') ?? '';
  await fetch(`${program.address}/api/layouts/1`, {method: 'DELETE', headers: {'If-Match': etag}});
  await button('Save changes').click();
  await page.locator('.message').getByText('It was deleted somewhere else, so yours is saved as a new layout.').waitFor();
  assert.equal((await stored(2)).elements[2].width, 3);
  assert.match(page.url(), /layouts\/2$/);
});

test('what was not saved yet outlives its window', async () => {
  await open();
  await widthOf(page, '3 Banner').fill('3');
  await widthOf(page, '3 Banner').press('Enter');
  // Longer than the page waits before it writes.
  await page.waitForTimeout(1_000);
  const context = page.context();
  await page.close();
  turnTo(await context.newPage());
  await page.goto(`${program.address}/`);
  const waiting = page.getByText('A layout is waiting to be saved.');
  // A window that was not closed in order counts as gone after a while.
  for (let tries = 0; tries < 12 && !(await waiting.isVisible()); tries += 1) {
    await page.waitForTimeout(2_000);
    await page.reload();
  }
  await page.getByRole('link', {name: 'Go on with it'}).click();
  assert.equal(await widthOf(page, '3 Banner').inputValue(), '3');
  await button('Undo').click();
  assert.equal(await widthOf(page, '3 Banner').inputValue(), '2 1/2', 'undo came along');
});
