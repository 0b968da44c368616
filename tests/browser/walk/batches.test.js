// Batches of cards: begun from layouts, planned as they are changed, cut once,
// and taken back; and what one layout takes.

import assert from 'node:assert/strict';
import {test} from 'node:test';

import {DESKTOP, PHONE} from './program.js';
import {addPapers, CARDSTOCK, DOTS, DOUBTFUL, FERNS, saveLayout, THANK_YOU} from './samples.js';
import {enter, page, program, setStage} from './stage.js';

setStage(async (address) => {
  await saveLayout(address, THANK_YOU);
  await saveLayout(address, DOUBTFUL);
  await addPapers(address, FERNS, DOTS, CARDSTOCK);
});

/** @param {string} path */
const stored = async (path) => (await fetch(`${program.address}${path}`)).json();
const counts = async () => Object.fromEntries((await stored('/api/papers')).papers
  .filter((/** @type {any} */ one) => one.cut_from === undefined).map((/** @type {any} */ one) => [one.name, one.count]));
const totals = () => page.locator('#plan-totals').textContent();
/** Waits until the search is over. */
const planned = async () => {
  await page.locator('.planning').waitFor({state: 'hidden'});
  await page.waitForFunction(() => /^\d/.test(document.querySelector('#plan-totals')?.textContent ?? ''));
};

/** @param {object} batch @returns {Promise<number>} */
async function begin(batch) {
  const response = await fetch(`${program.address}/api/batches`, {
    method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify({schema: 1, ...batch}),
  });
  return (await response.json()).id;
}

/** @param {{width: number, height: number}} screen @param {number} id */
async function openBatch(screen, id) {
  await enter(screen);
  await page.evaluate((to) => { location.hash = to; }, `#/batches/${id}`);
  await page.locator('#batch-heading:visible').waitFor();
  await planned();
}

for (const [name, screen] of /** @type {const} */ ([['phone', PHONE], ['desktop', DESKTOP]])) {
  test(`cards of chosen layouts are planned, and other papers make another plan (${name})`, async () => {
    await enter(screen);
    await page.getByRole('button', {name: 'Choose several'}).click();
    await page.getByLabel(`Choose ${THANK_YOU.title}`).check();
    await page.getByLabel(`Choose ${DOUBTFUL.title}`).check();
    await page.getByRole('button', {name: 'Make cards of these'}).click();
    await page.waitForFunction(() => document.activeElement?.id === 'batch-heading');
    await planned();
    assert.match(await totals() ?? '', /^8 cards from \d+ sheets/);
    assert.match(await page.locator('#announcer').textContent() ?? '', /^Planned\. 8 cards/);
    assert.ok(await page.locator('.sheet-drawing').count() >= 2, 'every sheet is drawn');
    const plan = await stored('/api/batches/1/plan');
    assert.equal(await page.locator('.sheet .told tbody tr').count(), plan.sheets.flatMap((/** @type {any} */ one) => one.cuts).length, 'every cut is in a table');
    assert.equal(await page.locator('.sheet-piece').count(), plan.sheets.flatMap((/** @type {any} */ one) => one.pieces).length, 'every piece is drawn');
    assert.ok(await page.locator('.sheet-back').count() > 0, 'the back of the ferns is used');
    assert.ok(await page.locator('.sheet-piece').evaluateAll((pieces) => pieces.every((one) => one.getBoundingClientRect().width > 1)), 'and seen');
    assert.equal(await page.locator('.sheet-number').count(), await page.locator('.sheet-cut').count());

    const before = await totals();
    const strip = page.getByLabel(`Paper B of ${DOUBTFUL.title}`);
    await strip.selectOption('3:0');
    await page.locator('.planning').waitFor();
    await planned();
    await page.locator('li').filter({has: strip}).getByText(/^Chosen by hand\./).waitFor();
    assert.notEqual(await totals(), before);
    assert.deepEqual((await stored('/api/batches/1')).papers, [{layout: 2, supply: 'B', paper: 3, face: 0}]);
    await strip.selectOption('');
    await planned();
    await page.waitForFunction((wanted) => document.querySelector('#plan-totals')?.textContent === wanted, before);

    await page.getByLabel(`Cards of ${THANK_YOU.title}`).fill('2');
    await page.getByLabel(`Cards of ${THANK_YOU.title}`).press('Tab');
    await page.waitForFunction(() => document.querySelector('#plan-totals')?.textContent?.startsWith('6 cards'));
    await page.getByRole('button', {name: `Leave out ${DOUBTFUL.title}`}).click();
    await page.waitForFunction(() => document.querySelector('#plan-totals')?.textContent?.startsWith('2 cards'));
  });
}

test('what is cut leaves the drawer once, and comes back', async () => {
  const id = await begin({title: 'Thursday round', layouts: [{layout: 1, cards: 4}]});
  const before = await counts();
  await openBatch(DESKTOP, id);
  const drawn = await page.locator('.sheet-drawing').count();
  const print = await page.getByRole('link', {name: 'Print the sheets (PDF)'}).getAttribute('href');
  assert.equal((await fetch(`${program.address}${print}`)).headers.get('content-type'), 'application/pdf');
  await page.evaluate(() => {
    // Two presses before anything is drawn anew.
    const button = document.getElementById('cut-batch');
    button?.click();
    button?.click();
  });
  await page.locator('.message:visible').getByText(/^Taken out of the drawer: \d sheets? of .+Put back as offcuts: /).waitFor();
  await page.waitForFunction(() => document.activeElement?.id === 'uncut');
  const plan = await stored(`/api/batches/${id}/plan`);
  const taken = plan.sheets.reduce((/** @type {number} */ sum, /** @type {any} */ one) => sum + one.count, 0);
  const sum = (/** @type {Record<string, number>} */ of) => Object.values(of).reduce((a, b) => a + b, 0);
  assert.equal(sum(before) - sum(await counts()), taken, 'each sheet of the plan was taken once');
  assert.equal(await page.locator('.sheet-drawing').count(), drawn, 'the plan is still there to look at');
  assert.equal(await page.getByLabel(`Cards of ${THANK_YOU.title}`).isDisabled(), true);
  await page.getByRole('button', {name: 'Undo: it was not cut'}).click();
  await page.locator('.message:visible').getByText(/^Taken back/).waitFor();
  assert.deepEqual(await counts(), before);
  await page.getByRole('button', {name: 'It is cut'}).waitFor();
});

test('what no paper is left for is told, with what would help', async () => {
  const id = await begin({layouts: [{layout: 1, cards: 60}]});
  await openBatch(PHONE, id);
  await page.getByRole('heading', {name: 'Pieces without paper'}).waitFor();
  await page.getByText(/of piece [a-z], .+: no paper left for them\./).first().waitFor();
  await page.getByText(/of 60 cards can be cut from what is there\./).waitFor();
});

test('a long search is stopped, and the best plan so far is kept', async () => {
  const id = await begin({layouts: [{layout: 1, cards: 60}]});
  await openBatch(DESKTOP, id);
  await page.getByRole('button', {name: 'Look longer'}).click();
  await page.locator('.planning').waitFor();
  assert.equal(await page.getByRole('button', {name: 'It is cut'}).isDisabled(), true, 'what is still being planned is not cut');
  await page.getByRole('button', {name: 'Stop here'}).click();
  await page.locator('.planning').waitFor({state: 'hidden'});
  assert.match(await totals() ?? '', /^\d+ pieces of 360 for 60 cards/);
  assert.ok(await page.locator('.sheet-drawing').count() > 0);
});

test('the trimmer’s limits and bought bases change the plan', async () => {
  const id = await begin({layouts: [{layout: 1, cards: 4}]});
  await openBatch(DESKTOP, id);
  await page.getByText('Change it').click();
  assert.equal(await page.getByLabel('Card bases', {exact: true}).count(), 1);
  await page.getByLabel('Card bases are cut as well').uncheck();
  await page.getByLabel('Card bases', {exact: true}).waitFor({state: 'detached'});
  await page.getByLabel('The blade takes away', {exact: true}).fill('1/16');
  await page.getByLabel('The blade takes away', {exact: true}).press('Tab');
  await page.getByText('Blade 1/16, bases are bought.').waitFor();
  await planned();
  await page.waitForFunction(async (url) => (await (await fetch(url)).json()).cutting.blade === 0.0625, `/api/batches/${id}`);
});

test('a batch is deleted and brought back', async () => {
  const id = await begin({title: 'Thursday round', layouts: [{layout: 1, cards: 4}]});
  await openBatch(PHONE, id);
  await page.getByText('Delete this batch').click();
  await page.getByRole('button', {name: 'Delete the batch'}).click();
  await page.waitForFunction(() => document.activeElement?.id === 'undo-batch');
  await page.getByRole('heading', {name: 'No batch yet'}).waitFor();
  await page.keyboard.press('Enter');
  await page.getByRole('link', {name: 'Thursday round'}).waitFor();
  assert.equal((await stored('/api/batches')).batches[0].layouts[0].cards, 4);
});

test('a change made a moment before leaving is saved', async () => {
  const id = await begin({title: 'Thursday round', layouts: [{layout: 1, cards: 4}]});
  await openBatch(DESKTOP, id);
  await page.locator('#batch-title').fill('Friday round');
  await page.getByRole('link', {name: 'Your batches'}).click();
  await page.getByRole('link', {name: 'Friday round'}).waitFor();
});

test('one layout tells what to cut and how it is put together, and begins a batch', async () => {
  await enter(PHONE);
  await page.getByRole('link', {name: THANK_YOU.title}).click();
  await page.getByLabel('Cards', {exact: true}).fill('none');
  await page.getByRole('button', {name: 'What to cut'}).click();
  await page.getByText('Write a number of cards, from 1 to 1000.').waitFor();
  await page.getByLabel('Cards', {exact: true}).fill('6');
  await page.getByRole('button', {name: 'What to cut'}).click();
  await page.waitForFunction(() => document.activeElement?.id === 'making-pieces');
  // A folded A2 card is 8 1/2 x 5 1/2 before it is scored (trade web pages).
  await page.getByRole('row', {name: /^6 of 8\s1\/2 x 5\s1\/2 Card bases/}).waitFor();
  await page.getByRole('heading', {name: 'Put one together'}).waitFor();
  await page.getByText(/check with your post office/).waitFor();
  for (const name of ['Cut list (PDF)', 'Assembly (PDF)', 'Cut list (CSV)']) {
    const href = await page.getByRole('link', {name}).getAttribute('href');
    assert.match(href ?? '', /cards=6$/);
    assert.equal((await fetch(`${program.address}${href}`)).status, 200, name);
  }
  await page.getByRole('button', {name: 'Begin a batch'}).click();
  await page.locator('#batch-heading').getByText(THANK_YOU.title).waitFor();
  assert.deepEqual((await stored('/api/batches/1')).layouts, [{layout: 1, cards: 6}]);
});
