// Every screen, at phone and desktop size: axe finds nothing, targets are
// large enough, nothing runs off the side, and the page stays light.

import assert from 'node:assert/strict';
import {readFileSync} from 'node:fs';
import {createRequire} from 'node:module';
import {after, before, describe, test} from 'node:test';

import {DESKTOP, drop, openPage, PHONE, READ_MS, saveElsewhere, startBrowser, startProgram, TABLET} from './program.js';
import {addPapers, CARDSTOCK, DOTS, DOUBTFUL, FERNS, ONE_CARD, saveLayout, THANK_YOU} from './samples.js';

/** @typedef {import('playwright-core').Page} Page */

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
/** Page weight without photos, uncompressed, in bytes. */
const MOST_BYTES = 300_000;
/** WCAG 2.2, 2.5.8: 24 CSS px. */
const LEAST_TARGET_PX = 24;

/** @type {import('playwright-core').Browser} */
let browser;
before(async () => { browser = await startBrowser(); });
after(() => browser.close());

/**
 * @param {Page} page
 * @param {string} screen
 */
async function checkScreen(page, screen) {
  // The whole page at once: what a bar at the bottom covers can be scrolled to, which the rules do not know.
  const seen = page.viewportSize();
  const height = await page.evaluate(() => document.documentElement.scrollHeight);
  if (seen && height > seen.height) await page.setViewportSize({width: seen.width, height});
  // Not as a script tag: the page's own policy forbids what is not in its files.
  await page.evaluate(AXE);
  const violations = await page.evaluate(async () => {
    const axe = /** @type {any} */ (globalThis).axe;
    const {violations} = await axe.run(document, {
      runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
    });
    return violations.map((/** @type {any} */ one) => `${one.id}: ${one.nodes.map((/** @type {any} */ node) => node.html).join(' | ')}`);
  });
  if (seen) await page.setViewportSize(seen);
  assert.deepEqual(violations, [], `${screen}: axe`);

  const small = await page.evaluate((least) => [...document.querySelectorAll('a, button, input, select, textarea, label.button')]
    .filter((element) => element.checkVisibility() && !element.closest('[inert]') && !element.matches('.heard, .skip'))
    .map((element) => ({box: (element.closest('label') ?? element).getBoundingClientRect(), html: element.outerHTML}))
    .filter(({box}) => box.width < least || box.height < least)
    .map(({html}) => html), LEAST_TARGET_PX);
  assert.deepEqual(small, [], `${screen}: targets of at least ${LEAST_TARGET_PX} px`);

  const overflow = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  assert.ok(overflow <= 0, `${screen}: ${overflow} px run off the side`);
}

for (const [name, screen] of /** @type {const} */ ([['phone', PHONE], ['tablet', TABLET], ['desktop', DESKTOP]])) {
  describe(`every screen on a ${name}`, () => {
    test('is accessible', async () => {
      const program = await startProgram();
      const {page, faults} = await openPage(browser, program.address, screen);
      try {
        await checkScreen(page, 'empty notebook');
        const {path, card} = ONE_CARD;
        await page.locator('#card').selectOption(card);
        // Held until looked at, so that the progress is there to be checked.
        /** @type {(value?: unknown) => void} */
        let release = () => {};
        const looked = new Promise((resolve) => { release = resolve; });
        await page.route('**/api/photos', async (route) => {
          await looked;
          await route.continue();
        });
        await drop(page, path);
        await page.getByRole('heading', {name: 'Reading the drawing'}).waitFor();
        await checkScreen(page, 'reading');
        release();
        await page.getByRole('button', {name: 'Save layout'}).waitFor({timeout: READ_MS});
        await checkScreen(page, 'review');
        await page.locator('.element-name').first().click();
        await page.locator('input.length').first().fill('wide');
        await page.locator('input.length').first().press('Tab');
        await checkScreen(page, 'review with a wrong size');
        await page.locator('input.length').first().press('Escape');
        await page.getByRole('button', {name: 'Adjust corners or card'}).click();
        await checkScreen(page, 'corners');
        await page.getByRole('button', {name: 'Cancel'}).click();
        await page.getByRole('button', {name: 'Add what was missed'}).click();
        await checkScreen(page, 'adding what was missed');
        await page.getByRole('button', {name: 'Cancel'}).click();
        await page.getByRole('button', {name: 'Add a shape'}).click();
        await page.getByRole('button', {name: 'Banner', exact: true}).click();
        const folded = page.locator('#shape-panel details:not([open]) > summary');
        while (await folded.count() > 0) await folded.first().click();
        await page.getByRole('button', {name: 'Add a mat'}).click();
        await page.getByRole('button', {name: 'Distances'}).click();
        await checkScreen(page, 'one element chosen');
        await page.getByRole('button', {name: 'Choose several'}).click();
        await page.locator('#drawing-view .drawing').focus();
        await page.keyboard.press('Control+a');
        await checkScreen(page, 'all elements chosen');
        await page.getByRole('button', {name: 'Choose several'}).click();
        await page.keyboard.press('Control+z');
        await page.keyboard.press('Control+z');
        await page.getByRole('button', {name: 'Copy to another card size'}).click();
        await page.getByRole('dialog').waitFor();
        await checkScreen(page, 'copying to another card');
        await page.getByRole('dialog').getByRole('button', {name: 'Cancel'}).click();
        await page.context().setOffline(true);
        await page.getByRole('button', {name: 'Save layout'}).click();
        await page.getByText('1 save waits in this browser').waitFor();
        await checkScreen(page, 'a save that waits');
        await page.context().setOffline(false);
        await page.locator('.tile').waitFor();

        const {id} = await saveLayout(program.address, DOUBTFUL);
        await page.reload();
        await page.getByRole('link', {name: DOUBTFUL.title}).waitFor();
        await checkScreen(page, 'notebook');
        await page.getByText('By shape, paper, size and use').click();
        await page.getByLabel('no wider than').fill('wide');
        await page.getByLabel('no wider than').press('Tab');
        await page.locator('#search-wrong').getByText(/is not a length/).waitFor();
        await checkScreen(page, 'looking for layouts');
        await page.getByLabel('no wider than').fill('1/8');
        await page.getByLabel('no wider than').press('Tab');
        await page.getByRole('heading', {name: 'No layout has all of this'}).waitFor();
        await checkScreen(page, 'nothing found');
        await page.getByRole('button', {name: /^Forget/}).click();
        await page.getByRole('button', {name: 'Choose several'}).click();
        await page.getByLabel(`Choose ${DOUBTFUL.title}`).check();
        await page.locator('.chosen-more summary', {hasText: 'Print'}).click();
        await page.getByRole('link', {name: 'Print (PDF)'}).waitFor();
        await checkScreen(page, 'several chosen');
        await page.getByRole('button', {name: 'Done'}).click();
        await page.getByRole('link', {name: DOUBTFUL.title}).click();
        await page.getByText('Please check').waitFor();
        await checkScreen(page, 'saved layout with questions');
        await page.getByRole('button', {name: 'What to cut'}).click();
        await page.getByRole('heading', {name: 'Put one together'}).waitFor();
        await checkScreen(page, 'what one layout takes');
        await page.getByRole('button', {name: 'Show earlier versions'}).click();
        await page.getByText('There is nothing earlier yet').waitFor();
        await checkScreen(page, 'versions');

        await saveElsewhere(program.address, id, {...DOUBTFUL, title: 'Theirs'});
        await page.getByLabel('Title', {exact: true}).fill('Mine');
        await page.getByLabel('Title', {exact: true}).press('Tab');
        await page.getByRole('button', {name: 'Save changes'}).click();
        await page.getByRole('dialog').waitFor();
        await checkScreen(page, 'two versions');
        await page.getByRole('button', {name: 'Show the saved one'}).click();
        await page.getByRole('dialog').waitFor({state: 'hidden'});
        await page.getByRole('button', {name: 'Delete this layout'}).click();
        await page.getByRole('button', {name: 'Undo', exact: true}).waitFor();
        await checkScreen(page, 'deleted, with undo');
        assert.deepEqual(faults, []);
      } finally {
        await page.context().close();
        await program.stop();
      }
    });
  });
}

for (const [name, screen] of /** @type {const} */ ([['phone', PHONE], ['tablet', TABLET], ['desktop', DESKTOP]])) {
  test(`papers and batches are accessible on a ${name}`, async () => {
    const program = await startProgram();
    const {page, faults} = await openPage(browser, program.address, screen);
    try {
      await page.getByRole('link', {name: 'Batches', exact: true}).click();
      await page.getByRole('heading', {name: 'No batch yet'}).waitFor();
      await checkScreen(page, 'no batch');
      await page.getByRole('link', {name: 'Papers', exact: true}).click();
      await page.getByRole('heading', {name: 'The drawer is empty'}).waitFor();
      await checkScreen(page, 'empty drawer');
      await page.getByRole('link', {name: 'Add a paper'}).click();
      await page.getByLabel('The back can be shown too').check();
      const folded = page.locator('#papers details:not([open]) > summary:visible');
      while (await folded.count() > 0) await folded.first().click();
      await page.locator('#paper-width').fill('wide');
      await page.getByRole('button', {name: 'Put it into the drawer'}).click();
      await page.getByText(/is not a length/).waitFor();
      await checkScreen(page, 'a paper with faults');

      await addPapers(program.address, FERNS, DOTS, CARDSTOCK);
      await saveLayout(program.address, THANK_YOU);
      await page.getByRole('link', {name: 'Your papers'}).click();
      await page.locator('.paper-item').first().waitFor();
      await page.getByLabel('Holds a piece of').fill('wide');
      await page.getByLabel('Holds a piece of').press('Tab');
      await page.locator('#papers-wrong').getByText(/two sides/).waitFor();
      await checkScreen(page, 'the drawer');
      await page.getByRole('link', {name: FERNS.name, exact: true}).click();
      await page.getByRole('button', {name: 'Show what happened'}).click();
      await page.getByText(/: added/).waitFor();
      await page.getByRole('button', {name: 'Look in the notebook'}).click();
      await page.locator('#papers').getByRole('link', {name: THANK_YOU.title}).waitFor();
      await page.getByRole('button', {name: 'Another offcut'}).click();
      await checkScreen(page, 'one paper');
      await page.getByRole('button', {name: 'Take it out of the drawer'}).click();
      await page.getByRole('button', {name: 'Undo', exact: true}).click();
      await page.getByRole('link', {name: FERNS.name, exact: true}).waitFor();

      await page.getByRole('link', {name: 'Layouts', exact: true}).click();
      await page.getByRole('button', {name: 'Choose several'}).click();
      await page.getByLabel(`Choose ${THANK_YOU.title}`).check();
      await page.getByRole('button', {name: 'Make cards of these'}).click();
      await page.locator('.sheet-drawing').first().waitFor();
      await page.locator('.planning').waitFor({state: 'hidden'});
      await page.getByText('Change it').click();
      await page.getByText('Delete this batch').click();
      await checkScreen(page, 'a planned batch');
      await page.locator('#cards-1').fill('60');
      await page.locator('#cards-1').press('Tab');
      await page.getByRole('heading', {name: 'Pieces without paper'}).waitFor();
      await page.locator('.planning').waitFor({state: 'hidden'});
      await checkScreen(page, 'a batch that is short of paper');
      await page.getByRole('button', {name: 'It is cut'}).click();
      await page.getByText(/^Cut on /).waitFor();
      await checkScreen(page, 'a batch that was cut');
      await page.getByRole('link', {name: 'Your batches'}).click();
      await page.locator('.batch-list a').waitFor();
      await checkScreen(page, 'batches');
      assert.deepEqual(faults, []);
    } finally {
      await page.context().close();
      await program.stop();
    }
  });
}

for (const [name, screen] of /** @type {const} */ ([['phone', PHONE], ['desktop', DESKTOP]])) {
  test(`imports are accessible on a ${name}`, async () => {
    const program = await startProgram();
    const {page, faults} = await openPage(browser, program.address, screen);
    try {
      await page.getByRole('link', {name: 'Imports', exact: true}).click();
      await page.getByRole('heading', {name: 'Your imports'}).waitFor();
      await checkScreen(page, 'no import');
      const bytes = readFileSync(ONE_CARD.path);
      const jpeg = (/** @type {string} */ name, /** @type {Buffer} */ buffer) => ({name, mimeType: 'image/jpeg', buffer});
      await page.setInputFiles('#choose-many', [
        jpeg('a.jpg', bytes), jpeg('b.jpg', Buffer.concat([bytes, Buffer.from('again')])), jpeg('c.jpg', bytes), jpeg('torn.jpg', bytes.subarray(0, 400)),
      ]);
      await page.getByRole('heading', {name: '4 files to read'}).waitFor();
      await page.getByLabel('Different cards').check();
      await checkScreen(page, 'which card the files are for');
      await page.getByLabel('All for one card').check();
      await page.getByRole('button', {name: 'Read all 4'}).click();
      await page.getByRole('button', {name: 'Pause'}).click();
      await page.getByText(/^Paused: /).waitFor();
      await page.getByText('Give it up').click();
      await checkScreen(page, 'an import that is paused');
      await page.getByRole('button', {name: 'Go on reading'}).click();
      await page.getByText('All read: 4 files.', {exact: true}).waitFor({timeout: READ_MS});
      await page.getByRole('heading', {name: 'The same layout?'}).waitFor();
      await page.getByText('1 picture already there').click();
      await checkScreen(page, 'an import with things to look at');
      await page.getByRole('button', {name: 'Same: keep the earlier one'}).click();
      await page.getByRole('button', {name: 'Undo: keep both'}).waitFor();
      await checkScreen(page, 'one that was called the same');
      await page.getByRole('link', {name: 'Your imports'}).click();
      await page.locator('.import-list a').waitFor();
      await checkScreen(page, 'imports');
      assert.deepEqual(faults, []);
    } finally {
      await page.context().close();
      await program.stop();
    }
  });
}

test('the page is light, zooms, and runs nothing from elsewhere', async () => {
  const program = await startProgram();
  const context = await browser.newContext({viewport: DESKTOP});
  const page = await context.newPage();
  try {
    /** @type {Promise<number>[]} */
    const sizes = [];
    page.on('response', (response) => sizes.push(response.body().then((body) => body.length)));
    const response = await page.goto(`${program.address}/`);
    await page.getByRole('heading', {name: 'Nothing saved yet'}).waitFor();
    const bytes = (await Promise.all(sizes)).reduce((sum, size) => sum + size, 0);
    assert.ok(bytes > 50_000 && bytes < MOST_BYTES, `${bytes} bytes`);
    const policy = response?.headers()['content-security-policy'] ?? '';
    assert.match(policy, /script-src 'self'(;|$)/);
    assert.doesNotMatch(policy, /unsafe|https?:/);
    const viewport = await page.locator('meta[name="viewport"]').getAttribute('content');
    assert.doesNotMatch(viewport ?? '', /user-scalable|maximum-scale/);
  } finally {
    await context.close();
    await program.stop();
  }
});

test('nothing moves where motion is not wanted', async () => {
  const program = await startProgram();
  const {page} = await openPage(browser, program.address, PHONE, {reducedMotion: 'reduce'});
  try {
    /** @type {(value?: unknown) => void} */
    let release = () => {};
    const looked = new Promise((resolve) => { release = resolve; });
    await page.route('**/api/photos', async (route) => {
      await looked;
      await route.continue();
    });
    await drop(page, ONE_CARD.path);
    await page.getByRole('progressbar').waitFor();
    assert.equal(await page.evaluate(() => document.getAnimations().length), 0);
    release();
  } finally {
    await page.context().close();
    await program.stop();
  }
});

test('what is hidden cannot be reached by the keyboard', async () => {
  const program = await startProgram();
  const {page} = await openPage(browser, program.address, DESKTOP);
  try {
    const reachable = await page.evaluate(() => [...document.querySelectorAll('[hidden]')]
      .filter((element) => !/** @type {HTMLElement} */ (element).inert && element.querySelector('a, button, input, select, textarea'))
      .map((element) => element.outerHTML.slice(0, 80)));
    assert.deepEqual(reachable, []);
    /** @type {string[]} */
    const stops = [];
    for (let press = 0; press < 14; press += 1) {
      await page.keyboard.press('Tab');
      stops.push(await page.evaluate(() => document.activeElement?.id || document.activeElement?.className || document.activeElement?.tagName || ''));
    }
    assert.deepEqual(stops.slice(0, 11), ['skip', 'wordmark', 'A', 'A', 'A', 'A', 'choose-photo', 'choose-folder', 'button', 'card', 'whole-photo'], 'the screens follow the name');
    assert.ok(!stops.includes('save'), 'the save bar of the other view is not among the stops');
  } finally {
    await page.context().close();
    await program.stop();
  }
});
