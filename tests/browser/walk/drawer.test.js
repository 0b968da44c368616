// The drawer of papers: put in, found, counted, cut by hand, taken out and
// brought back; tables in and out.

import assert from 'node:assert/strict';
import {test} from 'node:test';

import {DESKTOP, PHONE} from './program.js';
import {addPapers, CARDSTOCK, DOTS, DOUBTFUL, FERNS, saveLayout, STRIP, THANK_YOU} from './samples.js';
import {enter, page, program, setStage} from './stage.js';

setStage();

/** @param {{width: number, height: number}} screen @param {string} [hash] */
async function open(screen, hash = '#/papers') {
  await enter(screen);
  await page.evaluate((to) => { location.hash = to; }, hash);
  await page.locator('#papers h1:visible').waitFor();
}

const heard = () => page.locator('#announcer').textContent();
const said = (/** @type {string | RegExp} */ text) => page.locator('.message:visible').getByText(text).waitFor();
const focusedId = () => page.evaluate(() => document.activeElement?.id ?? '');
/** @param {string} path */
const stored = async (path) => (await fetch(`${program.address}${path}`)).json();

for (const [name, screen] of /** @type {const} */ ([['phone', PHONE], ['desktop', DESKTOP]])) {
  test(`a paper is added, changed, counted and still there after a reload (${name})`, async () => {
    await enter(screen);
    await page.getByRole('navigation', {name: 'Screens'}).getByRole('link', {name: 'Papers'}).click();
    await page.getByRole('heading', {name: 'The drawer is empty'}).waitFor();
    assert.equal(await page.getByRole('link', {name: 'Papers', exact: true}).getAttribute('aria-current'), 'page');
    await page.getByRole('link', {name: 'Add a paper'}).click();
    await page.getByRole('heading', {name: 'Add a paper'}).waitFor();
    await page.getByLabel('Name', {exact: true}).fill('Ferns');
    await page.locator('#paper-height').fill('12¼');
    await page.getByLabel('How many sheets').fill('6');
    await page.getByRole('group', {name: 'Front'}).getByLabel('Colour').fill('green');
    await page.getByRole('group', {name: 'Front'}).getByLabel('Pattern').selectOption('busy');
    await page.getByRole('group', {name: 'Front'}).getByLabel(/has an up/).check();
    await page.getByRole('group', {name: 'Front'}).getByText('Edges that cannot be used').click();
    await page.getByRole('group', {name: 'Front'}).getByLabel('Bottom').fill('1/4');
    await page.getByLabel('The back can be shown too').check();
    await page.getByRole('group', {name: 'Back'}).getByLabel('Colour').fill('cream');
    await page.getByRole('button', {name: 'Put it into the drawer'}).click();
    await said('Ferns is in the drawer: 6 sheets.');
    await page.waitForFunction(() => document.activeElement?.id === 'paper-1');
    await page.getByText('Front: green, busy, has an up, not usable: 1/4 at the bottom').waitFor();
    assert.equal(await page.locator('.swatch').count(), 2, 'each face is drawn');
    const saved = await stored('/api/papers/1');
    assert.deepEqual([saved.height, saved.faces.length, saved.faces[0].unusable.bottom], [12.25, 2, 0.25]);

    await page.getByRole('button', {name: 'One less of Ferns'}).click();
    await page.locator('.counter').getByText('5 sheets').waitFor();
    assert.equal(await focusedId(), 'list-less-1', 'the keyboard stays where it was');
    await page.getByRole('link', {name: 'Ferns', exact: true}).click();
    await page.getByRole('heading', {name: 'Ferns'}).waitFor();
    await page.getByLabel('Name', {exact: true}).fill('Large ferns');
    await page.getByRole('button', {name: 'Save changes'}).click();
    await said('Saved.');
    await page.reload();
    await page.getByRole('heading', {name: 'Large ferns'}).waitFor();
    assert.equal(await page.locator('#paper-height').inputValue(), '12 1/4');
    assert.equal(await page.getByLabel('How many sheets').inputValue(), '5');
  });
}

test('what is wrong is told at its field, and the typing stays', async () => {
  await open(PHONE, '#/papers/new');
  await page.locator('#paper-width').fill('11.99');
  await page.getByRole('button', {name: 'Put it into the drawer'}).click();
  await page.getByText('Give the paper a name to find it by.').waitFor();
  await page.getByText(/“11.99” is between two sixteenths/).waitFor();
  assert.equal(await focusedId(), 'paper-name');
  assert.equal(await page.locator('#paper-width').inputValue(), '11.99');
  assert.equal((await stored('/api/papers')).total, 0);
});

test('sheets cut by hand leave, their offcuts come back, and the history brings them all back', async () => {
  await addPapers(program.address, FERNS);
  await open(DESKTOP, '#/papers/1');
  await page.getByLabel('Sheets that were cut').fill('9');
  await page.getByRole('button', {name: 'Take them out'}).click();
  await page.getByText('Write how many sheets were cut, from 1 to 4.').waitFor();
  await page.getByLabel('Sheets that were cut').fill('2');
  const offcut = page.getByRole('group', {name: 'Offcut 1'});
  await offcut.getByLabel('Width').fill('3');
  await offcut.getByLabel('Height').fill('12');
  await offcut.getByLabel('How many').fill('2');
  await page.getByRole('button', {name: 'Take them out'}).click();
  await said('2 sheets taken: 2 sheets. 2 offcuts put into the drawer.');
  const {papers} = await stored('/api/papers');
  assert.deepEqual(papers.map((/** @type {any} */ one) => [one.kind, one.width, one.count]).sort(), [['sheet', 12, 2], ['strip', 3, 2]]);
  await page.getByRole('button', {name: 'Show what happened'}).click();
  await page.getByText(/2 sheets cut by hand/).waitFor();
  await page.getByRole('button', {name: 'Back to number 1'}).click();
  await said('The paper is as it was then. Nothing was lost.');
  await page.locator('.counter:visible').getByText('4 sheets').waitFor();
});

test('a paper is taken out and brought back by one press', async () => {
  await addPapers(program.address, FERNS, DOTS);
  await open(PHONE, '#/papers/1');
  await page.getByRole('button', {name: 'Take it out of the drawer'}).click();
  await page.waitForFunction(() => document.activeElement?.id === 'undo-paper');
  assert.match(await heard() ?? '', /“Ferns” is taken out of the drawer\. Undo/);
  assert.equal(await page.locator('.paper-item').count(), 1);
  await page.keyboard.press('Enter');
  await page.getByRole('link', {name: 'Ferns', exact: true}).waitFor();
  await page.waitForFunction(() => document.activeElement?.id === 'paper-1');
});

test('papers are found by words, kind, weight, by the piece they hold, and by what is there', async () => {
  await addPapers(program.address, FERNS, {...DOTS, count: 0}, CARDSTOCK, STRIP);
  await open(DESKTOP);
  const names = () => page.locator('.paper-words > a').allTextContents();
  const find = async (/** @type {() => Promise<unknown>} */ act, /** @type {string[]} */ expected) => {
    await act();
    await page.waitForFunction((wanted) => [...document.querySelectorAll('.paper-words > a')].map((one) => one.textContent).join() === wanted, expected.join());
    assert.deepEqual(await names(), expected);
  };
  await find(() => page.locator('#papers-text').fill('spring'), ['Ferns']);
  await find(() => page.locator('#papers-text').fill(''), ['Dots', 'Ferns', 'Kraft', 'White cardstock']);
  await find(() => page.locator('#papers-kind').selectOption('strip'), ['Kraft']);
  await find(() => page.locator('#papers-kind').selectOption(''), ['Dots', 'Ferns', 'Kraft', 'White cardstock']);
  await find(() => page.locator('#papers-weight').selectOption('cardstock'), ['White cardstock']);
  await find(() => page.locator('#papers-weight').selectOption(''), ['Dots', 'Ferns', 'Kraft', 'White cardstock']);
  await find(async () => {
    await page.getByLabel('Holds a piece of').fill('4 1/4 x 8');
    await page.getByLabel('Holds a piece of').press('Enter');
  }, ['Ferns', 'White cardstock']);
  await page.getByLabel('Holds a piece of').fill('wide');
  await page.getByLabel('Holds a piece of').press('Tab');
  await page.locator('#papers-wrong').getByText(/two sides/).waitFor();
  await page.getByLabel('Holds a piece of').fill('');
  await find(() => page.getByLabel('Holds a piece of').press('Tab'), ['Dots', 'Ferns', 'Kraft', 'White cardstock']);
  await find(() => page.getByLabel('Only what is there').check(), ['Ferns', 'Kraft', 'White cardstock']);
});

test('a table comes in whole or not at all, and goes out', async () => {
  await open(DESKTOP);
  const file = (/** @type {string} */ text) => ({name: 'papers.csv', mimeType: 'text/csv', buffer: Buffer.from(text)});
  await page.setInputFiles('#papers-in', file('name,width,height,count\nFerns,12,wide,3\n'));
  await page.locator('.message.problem').getByText(/line 2/).waitFor();
  assert.equal((await stored('/api/papers')).total, 0);
  await page.setInputFiles('#papers-in', file('name,width,height,count,colour\nFerns,12,12 1/4,3,green\nDots,6,6,24,blue\n'));
  await said('2 papers put into the drawer.');
  assert.equal(await page.locator('.paper-item').count(), 2);
  const [table] = await Promise.all([page.waitForEvent('download'), page.getByRole('link', {name: 'All as a table (CSV)'}).click()]);
  assert.equal(table.suggestedFilename(), 'papers.csv');
});

test('a strip tells which layouts it has room for', async () => {
  await saveLayout(program.address, THANK_YOU);
  await saveLayout(program.address, DOUBTFUL);
  await addPapers(program.address, STRIP);
  await open(PHONE, '#/papers/1');
  await page.getByLabel('Cards of each').fill('2');
  await page.getByRole('button', {name: 'Look in the notebook'}).click();
  const strip = page.getByRole('listitem').filter({has: page.getByRole('link', {name: 'Get well, with a strip'})});
  await strip.first().getByText(/^strip B/).waitFor();
  assert.doesNotMatch(await strip.first().textContent() ?? '', /background/, 'a panel 4 wide is no part of a strip 1 1/2 wide');
  await page.getByRole('link', {name: 'Get well, with a strip'}).click();
  await page.getByRole('heading', {name: 'Get well, with a strip'}).waitFor();
});

test('a paper that was changed elsewhere keeps what is typed here', async () => {
  await addPapers(program.address, FERNS);
  await open(DESKTOP, '#/papers/1');
  await page.getByLabel('Name', {exact: true}).fill('Large ferns');
  const etag = (await fetch(`${program.address}/api/papers/1`)).headers.get('etag') ?? '';
  await fetch(`${program.address}/api/papers/1`, {
    method: 'PUT', headers: {'Content-Type': 'application/json', 'If-Match': etag}, body: JSON.stringify({...FERNS, count: 1}),
  });
  await page.getByRole('button', {name: 'Save changes'}).click();
  await page.locator('.message.problem').getByText(/changed elsewhere meanwhile: 1 sheet now/).waitFor();
  assert.equal(await page.getByLabel('Name', {exact: true}).inputValue(), 'Large ferns');
  await page.getByRole('button', {name: 'One more of Ferns'}).click();
  await said('Ferns: 2 sheets.');
  assert.equal(await page.getByLabel('How many sheets').inputValue(), '2', 'their number of sheets, counted on');
  assert.equal(await page.getByLabel('Name', {exact: true}).inputValue(), 'Large ferns');
  await page.getByRole('button', {name: 'Save changes'}).click();
  await said('Saved.');
  const saved = await stored('/api/papers/1');
  assert.deepEqual([saved.name, saved.count], ['Large ferns', 2]);
});

test('a drawer that cannot be fetched is told, and opens when the service is back', async () => {
  await enter(DESKTOP);
  await page.context().setOffline(true);
  await page.getByRole('link', {name: 'Papers', exact: true}).click();
  await page.locator('#intake .problem').getByText(/^The service does not answer/).waitFor();
  await page.context().setOffline(false);
  await page.getByRole('link', {name: 'Papers', exact: true}).click();
  await page.getByRole('heading', {name: 'The drawer is empty'}).waitFor();
});
