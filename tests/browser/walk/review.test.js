// What was read, beside the photo: both light together, what was missed is
// added, what was put right outlives a second reading, and many photos come
// one after another.

import assert from 'node:assert/strict';
import {test} from 'node:test';

import {DESKTOP, drop, PHONE, READ_MS} from './program.js';
import {ONE_CARD, OTHER_CARD} from './samples.js';
import {enter, page, setStage} from './stage.js';

setStage();

/** @param {{width: number, height: number}} screen */
async function readSample(screen) {
  await enter(screen);
  await page.locator('#card').selectOption(ONE_CARD.card);
  await drop(page, ONE_CARD.path);
  await page.getByRole('button', {name: 'Save layout'}).waitFor({timeout: READ_MS});
}
const button = (/** @type {string | RegExp} */ name) => page.getByRole('button', {name, exact: true});
const near = (/** @type {string} */ part) => page.locator(`${part} .near`);

test('photo, drawing and table light together, whichever is pointed at', async () => {
  await readSample(DESKTOP);
  await page.locator('#drawing-view .shape[data-id="1"]').hover();
  assert.equal(await near('#photo-view').first().getAttribute('data-id'), '1');
  assert.equal(await page.locator('.element-row.near').count(), 1);
  await page.locator('#photo-view .badge[data-id="2"]').hover();
  assert.equal(await near('#drawing-view').getAttribute('data-id'), '2');
  await page.locator('.element-row').nth(2).hover();
  assert.equal(await near('#drawing-view').count(), 1);
  await page.locator('.element-row input.length').first().focus();
  assert.equal(await near('#photo-view').first().getAttribute('data-id'), '1');
  await page.locator('#photo-view .badge[data-id="2"]').click();
  await page.getByRole('heading', {name: /^2 /}).waitFor();
});

for (const way of /** @type {const} */ (['clicks', 'keys'])) {
  test(`an element that was missed is shown by two corners and goes to the ink (${way})`, async () => {
    await readSample(DESKTOP);
    const sizes = () => page.locator('.element-row').nth(0).locator('input.length').evaluateAll((inputs) =>
      inputs.map((input) => /** @type {HTMLInputElement} */ (input).value));
    const read = await sizes();
    const outline = await page.locator('#photo-view .outline[data-id="1"]').boundingBox();
    assert.ok(outline);
    // As if it had been missed.
    await page.locator('.delete').first().click();
    const rows = await page.locator('.element-row').count();
    await button('Add what was missed').click();
    const corners = [[outline.x + 5, outline.y + 6], [outline.x + outline.width - 6, outline.y + outline.height - 5]];
    if (way === 'clicks') {
      await page.mouse.click(corners[0][0], corners[0][1]);
      await page.getByText('Now the opposite corner.').waitFor();
      await page.mouse.click(corners[1][0], corners[1][1]);
    } else {
      for (const [x, y] of corners) {
        for (let press = 0; press < 300; press += 1) {
          const box = await page.locator('.cross').boundingBox();
          const [dx, dy] = [x - (box?.x ?? 0) - 14, y - (box?.y ?? 0) - 14];
          if (Math.abs(dx) <= 2 && Math.abs(dy) <= 2) break;
          const far = Math.max(Math.abs(dx), Math.abs(dy)) > 9 ? 'Shift+' : '';
          const sideways = Math.abs(dx) > Math.abs(dy);
          await page.keyboard.press(`${far}${sideways ? (dx > 0 ? 'ArrowRight' : 'ArrowLeft') : dy > 0 ? 'ArrowDown' : 'ArrowUp'}`);
        }
        await page.keyboard.press('Enter');
      }
    }
    await page.locator('.element-row').nth(rows).waitFor();
    const added = page.locator('.element-row').last();
    assert.deepEqual(await added.locator('input.length').evaluateAll((inputs) =>
      inputs.map((input) => /** @type {HTMLInputElement} */ (input).value)), read, 'as large, and where, it was read');
    assert.equal(await page.evaluate(() => document.activeElement?.id), 'chosen-heading');
  });
}

test('what was put right is still right after reading again, and the rest is read', async () => {
  await readSample(DESKTOP);
  const count = await page.locator('.element-row').count();
  const first = page.locator('.element-row').first().locator('input.length').first();
  await first.fill('2 3/8');
  await first.press('Enter');
  await page.locator('.delete').nth(2).click();
  await button('Adjust corners or card').click();
  await button('Read again').click();
  await page.locator('.message').getByText(/What you had put right is kept/).waitFor({timeout: READ_MS});
  assert.equal(await first.inputValue(), '2 3/8');
  assert.equal(await page.locator('.element-row').count(), count - 1, 'what was deleted stays away');

  // The same for a layout that was saved and opened again.
  await button('Save layout').click();
  await page.locator('.tile').click();
  await page.locator('.element-row').first().waitFor();
  await button('Adjust corners or card').click();
  await button('Read again').click();
  await page.locator('.message').getByText(/What you had put right is kept/).waitFor({timeout: READ_MS});
  assert.equal(await first.inputValue(), '2 3/8');
  assert.equal(await page.locator('.element-row').count(), count - 1);
});

test('photos that come one by one are opened one after another; one that is no picture stops none', async () => {
  await enter(PHONE);
  await page.setInputFiles('#choose-photo', [
    {name: 'letter.jpg', mimeType: 'image/jpeg', buffer: Buffer.from('Dear Ines')},
  ]);
  await page.locator('#intake .problem').getByText(/no picture or PDF I can read/).waitFor();
  for (const {path} of [ONE_CARD, OTHER_CARD, ONE_CARD]) await drop(page, path);
  await page.getByText('2 more photos: pen-tilted.jpg, flat-scan.jpg.').waitFor({timeout: READ_MS});
  for (const left of ['1 more photo', null]) {
    await button('Save layout').click();
    if (left) await page.getByText(left).waitFor({timeout: READ_MS});
    await button('Save layout').waitFor({timeout: READ_MS});
  }
  await button('Save layout').click();
  await page.locator('.tile').nth(2).waitFor();
  assert.equal(await page.locator('.tile').count(), 3);
});

test('photos that come while something is being corrected wait for it', async () => {
  await readSample(PHONE);
  await page.getByLabel('Title', {exact: true}).fill('For Ines');
  await page.getByLabel('Title', {exact: true}).press('Tab');
  await drop(page, OTHER_CARD.path);
  await page.getByText('1 more photo: pen-tilted.jpg.').waitFor();
  assert.equal(await page.getByLabel('Title', {exact: true}).inputValue(), 'For Ines');
  await button('Leave them out').click();
  await page.getByText('1 more photo').waitFor({state: 'hidden'});
});
