// Makes the README's picture, a photo beside what was read from it, by dropping the photo on the page of the
// built program and looking: node sample-images/readme/make.mjs
// Needs target/release/eighths, and what the browser tests need (npm ci --prefix tests/browser, Chromium).

import {fileURLToPath} from 'node:url';

import {drop, openPage, READ_MS, startBrowser, startProgram} from '../../tests/browser/walk/program.js';

const here = (/** @type {string} */ name) => fileURLToPath(new URL(name, import.meta.url));
/** Wide enough for photo, drawing and table side by side; small enough to read in a README. */
const SCREEN = {width: 1200, height: 720};

const program = await startProgram();
const browser = await startBrowser();
try {
  const {page} = await openPage(browser, program.address, SCREEN);
  await page.locator('#card').selectOption('A2');
  await drop(page, here('../pen-tilted.jpg'));
  await page.getByRole('button', {name: 'Save layout'}).waitFor({timeout: READ_MS});
  await page.getByLabel('Title', {exact: true}).fill('Stars for the young readers');
  await page.evaluate(() => {
    scrollTo(0, 0);
    if (document.activeElement instanceof HTMLElement) document.activeElement.blur();
  });
  // The photo for the screen is made when it is first asked for.
  await page.waitForLoadState('networkidle');
  await page.screenshot({path: here('reading.jpg'), type: 'jpeg', quality: 85});
} finally {
  await browser.close();
  await program.stop();
}
