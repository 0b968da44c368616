// Many files in one go: dropped as a folder, sent over a line that breaks,
// watched, paused, left and come back to, and decided where a person must.

import assert from 'node:assert/strict';
import {copyFileSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync} from 'node:fs';
import {tmpdir} from 'node:os';
import {join} from 'node:path';
import {after, before, test} from 'node:test';

import {DESKTOP, dropFolder, PHONE, READ_MS} from './program.js';
import {DOUBTFUL, FOUR_CARDS, ONE_CARD, OTHER_CARD, saveLayout, THANK_YOU} from './samples.js';
import {browser, enter, page, program, setStage} from './stage.js';

/** Longest task while results come in, and while one scrolls, in ms. */
const LONGEST_TASK_MS = 100;
/** Results of a large drawer. */
const MANY = 1000;
const DRAWN = 12;
/** Tiles that are laid out at once: some screens of them. */
const MOST_LAID_OUT = 400;

setStage();

/** @type {string} */
let folder;
before(() => {
  folder = join(mkdtempSync(join(tmpdir(), 'drawer-')), 'card table');
  mkdirSync(join(folder, 'thank you'), {recursive: true});
  mkdirSync(join(folder, 'get well'));
  copyFileSync(ONE_CARD.path, join(folder, 'thank you', 'scan 1.jpg'));
  copyFileSync(ONE_CARD.path, join(folder, 'thank you', 'scan 1 again.jpg'));
  copyFileSync(OTHER_CARD.path, join(folder, 'thank you', 'scan 2.jpg'));
  copyFileSync(FOUR_CARDS.path, join(folder, 'get well', 'four.jpg'));
  writeFileSync(join(folder, 'get well', 'torn.jpg'), readFileSync(ONE_CARD.path).subarray(0, 400));
  writeFileSync(join(folder, 'letter.txt'), 'Dear Ines');
});
after(() => rmSync(join(folder, '..'), {recursive: true, force: true}));

/** @param {string} path */
const stored = async (path) => (await fetch(`${program.address}${path}`)).json();
const button = (/** @type {string | RegExp} */ name) => page.getByRole('button', {name, exact: typeof name === 'string'});
const focused = (/** @type {string} */ id) => page.waitForFunction((wanted) => document.activeElement?.id === wanted, id);
/** Waits until everything was read. @param {string} words */
const allRead = (words) => page.locator('.import-far').getByText(words).waitFor({timeout: 2 * READ_MS});

/** Another file with the same picture. @param {string} path @param {string} more */
const otherBytes = (path, more) => Buffer.concat([readFileSync(path), Buffer.from(more)]);

/** Chooses files, which makes them an import. @param {{name: string, mimeType: string, buffer: Buffer}[]} files */
async function choose(files) {
  await page.setInputFiles('#choose-photo', files);
  await focused('import-new-heading');
}

/** @param {string} name @param {Buffer} buffer */
const jpeg = (name, buffer) => ({name, mimeType: 'image/jpeg', buffer});

for (const [name, screen] of /** @type {const} */ ([['phone', PHONE], ['desktop', DESKTOP]])) {
  test(`a folder is dropped, paused, left, come back to and read to its end (${name})`, async () => {
    await enter(screen);
    await dropFolder(page, folder);
    await page.getByRole('heading', {name: '5 files to read'}).waitFor();
    await focused('import-new-heading');
    await page.getByText('Left out, for they are no pictures: card table/letter.txt.').waitFor();
    await page.getByLabel('Each folder has its card').check();
    await page.getByLabel('card table/get well').selectOption('A2');
    await button('Read all 5').click();
    await page.waitForURL(/#\/imports\/1$/);
    await button('Pause').click();
    await page.getByText(/^Paused: /).waitFor();
    await focused('import-resume');
    assert.equal((await stored('/api/imports/1')).state, 'paused');

    await page.reload();
    await page.getByText(/^Paused: /).waitFor();
    await button('Go on reading').click();
    await allRead('All read: 5 files.');
    const {counts, open} = await stored('/api/imports/1');
    assert.deepEqual([counts.files, counts.already_there, counts.unreadable, open], [5, 1, 1, false], 'each file was sent once, and no more come');
    await page.getByRole('heading', {name: 'Not readable: 1 file'}).waitFor();
    await page.getByText('card table/get well/torn.jpg').waitFor();
    const tiles = page.locator('.import-tile a[data-layout]');
    await page.waitForFunction((many) => document.querySelectorAll('.import-tile a[data-layout]').length === many, counts.layouts - counts.alike);
    assert.match(await page.locator('#import-counts').textContent() ?? '', new RegExp(`^5 files · ${counts.layouts} layouts in the notebook`));
    await page.getByText('1 picture already there').click();
    await page.getByText(/The same file as card table\/thank you\/scan 1/).waitFor();

    // To the editor and back to the same place.
    const last = tiles.last();
    const id = await last.getAttribute('id') ?? '';
    await last.click();
    await page.locator('.element-row').first().waitFor();
    await page.locator('#work .back').getByText('The import').click();
    await focused(id);
    assert.equal(await last.locator('.import-looked').isVisible(), true);
    await last.click();
    await page.locator('.element-row').first().waitFor();
    await page.goBack();
    await focused(id);
    await page.getByRole('link', {name: 'Your imports'}).click();
    await page.locator('.import-list').getByText(/^5 files · /).waitFor();
    await page.getByRole('link', {name: 'Layouts', exact: true}).click();
    await page.locator('.tile').nth(counts.layouts - 1).waitFor();
  });
}

test('what looks like an earlier layout is decided by keys, and taken back', async () => {
  await enter(DESKTOP);
  await choose([jpeg('a.jpg', readFileSync(ONE_CARD.path)), jpeg('b.jpg', otherBytes(ONE_CARD.path, 'again')), jpeg('c.jpg', otherBytes(ONE_CARD.path, 'once more'))]);
  await button('Read all 3').click();
  await allRead('All read: 3 files.');
  await page.getByText('2 layouts look like an earlier one.').waitFor();
  await page.locator('.alike-photo img').nth(1).waitFor();
  assert.ok(await page.locator('.alike-photo img').evaluateAll((images) => images.every((image) => {
    const [inner, outer] = [image.getBoundingClientRect(), image.parentElement?.getBoundingClientRect()];
    return outer && inner.width > outer.width && outer.width > 100;
  })), 'the card is cut out of its photo');
  await button('Same: keep the earlier one').focus();
  await page.keyboard.press('Enter');
  await page.getByText('The earlier one is kept in place of “b”.').waitFor();
  await focused('alike-same');
  assert.equal((await stored('/api/layouts')).total, 2);
  await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.getByRole('heading', {name: 'The same layout?'}).waitFor({state: 'hidden'});
  assert.deepEqual([(await stored('/api/layouts')).total, (await stored('/api/imports/1')).counts.alike], [2, 0]);
});

test('a layout that was called the same is brought back', async () => {
  await enter(PHONE);
  await choose([jpeg('a.jpg', readFileSync(ONE_CARD.path)), jpeg('b.jpg', otherBytes(ONE_CARD.path, 'again'))]);
  await button('Read all 2').click();
  await button('Same: keep the earlier one').click({timeout: READ_MS});
  await focused('undo-alike');
  await page.getByText('1 picture already there').waitFor();
  await button('Undo: keep both').click();
  await page.locator('#imports').getByText('“b” is back: both are kept.').waitFor();
  assert.equal((await stored('/api/layouts')).total, 2);
  await page.getByText('1 picture already there').waitFor({state: 'hidden'});
  await page.reload();
  await page.locator('.import-tile').nth(1).waitFor();
});

test('drawings whose card nobody can tell are asked about once, for all', async () => {
  await enter(DESKTOP);
  await choose([jpeg('a.jpg', readFileSync(ONE_CARD.path)), jpeg('b.jpg', readFileSync(OTHER_CARD.path))]);
  await page.getByLabel('Different cards: the drawn outline tells which').check();
  const among = page.getByRole('group', {name: 'It may be'});
  for (const box of await among.getByRole('checkbox').all()) await box.uncheck();
  await button('Read all 2').click();
  await page.getByText('Tick the cards that the drawings may be for.').waitFor();
  await among.getByLabel(/^slimline/).check();
  await button('Read all 2').click();
  await page.getByRole('heading', {name: '2 pictures: which card are they for?'}).waitFor({timeout: READ_MS});
  await allRead('All read: 2 files.');
  assert.equal(await page.locator('.import-tile img').count(), 2, 'the pictures are shown');
  await page.getByLabel('Card', {exact: true}).and(page.locator('#import-say-card')).selectOption('A2');
  await button('Read all 2 for this card').click();
  await page.locator('.import-tile a[data-layout]').nth(1).waitFor({timeout: READ_MS});
  await page.getByRole('heading', {name: /which card/}).waitFor({state: 'hidden'});
  const {counts} = await stored('/api/imports/1');
  assert.deepEqual([counts.which_card, counts.files_done], [0, 2]);

  // The rule is still there next time.
  await page.getByRole('link', {name: 'Layouts', exact: true}).click();
  await choose([jpeg('c.jpg', Buffer.from('x')), jpeg('d.jpg', Buffer.from('y'))]);
  assert.equal(await page.getByLabel('Different cards').isChecked(), true);
  await button('Leave it').click();
  await focused('home-heading');
});

test('where no layout was found the person shows the corners', async () => {
  await enter(DESKTOP);
  const drawn = await page.evaluate(async () => {
    const canvas = new OffscreenCanvas(900, 1200);
    const context = /** @type {OffscreenCanvasRenderingContext2D} */ (canvas.getContext('2d'));
    context.fillStyle = '#fff';
    context.fillRect(0, 0, 900, 1200);
    context.lineWidth = 4;
    // Lines enough for a drawing, and no card among them.
    for (const [x, y, toX, toY] of [[150, 200, 700, 420], [180, 900, 640, 560], [300, 300, 420, 1000], [600, 250, 760, 980]]) {
      context.beginPath();
      context.moveTo(x, y);
      context.lineTo(toX, toY);
      context.stroke();
    }
    const bytes = new Uint8Array(await (await canvas.convertToBlob({type: 'image/png'})).arrayBuffer());
    return [...bytes];
  });
  await choose([{name: 'scribble.png', mimeType: 'image/png', buffer: Buffer.from(drawn)}, jpeg('a.jpg', readFileSync(ONE_CARD.path))]);
  await button('Read all 2').click();
  await page.getByRole('heading', {name: 'No layout found: 1 picture'}).waitFor({timeout: READ_MS});
  await allRead('All read: 2 files.');
  await page.getByText('No card outline found: show all four sides of the card, or say that the whole photo is the card.').waitFor();
  await button('Show the four corners of scribble.png').click();
  await page.getByRole('heading', {name: 'Where is the card?'}).waitFor();
  await page.locator('#photo-view').getByRole('button', {name: 'Read again'}).waitFor();
  // What is made of the picture there is known when one comes back.
  const {files} = await stored('/api/imports/1/files');
  const photo = files.flatMap((/** @type {any} */ one) => one.pages).find((/** @type {any} */ one) => one.outcome === 'no-layout').photo;
  const {id} = await saveLayout(program.address, {...DOUBTFUL, capture: {...DOUBTFUL.capture, photo}});
  await page.locator('#work .back').click();
  await page.waitForFunction(() => document.activeElement?.id.startsWith('corners-'));
  assert.equal(await page.getByRole('link', {name: 'Read with your corners: open it'}).getAttribute('href'), `#/layouts/${id}`);
});

test('files arrive once, though the line breaks, and a window that is left leaves the import open', async () => {
  await enter(DESKTOP);
  const tiny = Array.from({length: 25}, (_, at) => jpeg(`note ${at + 1}.jpg`, Buffer.from(`no picture ${at}`)));
  await choose(tiny);
  // Two requests are lost on the way; of a third only the answer is.
  let requests = 0;
  await page.route('**/api/imports/1/files', async (route) => {
    requests += 1;
    if (requests === 2 || requests === 3) return route.abort();
    if (requests === 4) await route.fetch();
    return requests === 4 ? route.abort() : route.continue();
  });
  await button('Read all 25').click();
  await page.getByText(/The service does not answer.+\d+ of 25 files sent/).waitFor();
  await allRead('All read: 25 files.');
  const {files} = await stored('/api/imports/1/files?limit=500');
  assert.deepEqual(files.map((/** @type {any} */ one) => one.name).sort(), tiny.map(({name}) => name).sort());
  assert.equal((await stored('/api/imports/1')).open, false);

  await page.getByRole('link', {name: 'Layouts', exact: true}).click();
  await choose(tiny.slice(0, 12));
  await page.route('**/api/imports/2/files', (route) => (route.request().postData()?.includes('note 12') ? route.abort() : route.continue()));
  await button('Read all 12').click();
  await page.getByText(/10 of 12 files sent/).waitFor();
  page.once('dialog', (dialog) => void dialog.accept());
  await page.goto(`${program.address}/#/imports`);
  await page.reload();
  await page.getByText('It was left open for more files.').waitFor();
  await button(/^No more files come/).click();
  await page.getByText('It was left open for more files.').waitFor({state: 'hidden'});
  assert.equal((await stored('/api/imports/2')).open, false);
  await focused('import-2');
});

test('an import is given up only when it is said twice', async () => {
  await enter(PHONE);
  // More than are read before the last press; after the end of a JPEG nothing counts but its hash.
  await choose(Array.from({length: 20}, (_, k) => jpeg(`page ${k}.jpg`, Buffer.concat([readFileSync(FOUR_CARDS.path), Buffer.from([k])]))));
  await button('Read all 20').click();
  await button('Pause').click();
  await page.getByText('Give it up').click();
  await page.getByText('What has been read stays in the notebook.').waitFor();
  await button('Give up this import').click();
  await page.getByText(/^Given up after \d+ of 20 files\./).waitFor();
  assert.equal((await stored('/api/imports/1')).state, 'canceled');
  assert.equal(await page.getByText('Give it up').isVisible(), false);
});

test('a single picture is still read at once, and a document of pages is an import', async () => {
  await enter(DESKTOP);
  await page.setInputFiles('#choose-photo', {name: 'pages.pdf', mimeType: 'application/pdf', buffer: Buffer.from('%PDF-1.7 torn')});
  await page.getByRole('heading', {name: '1 file to read'}).waitFor();
  await button('Read it').click();
  await page.getByRole('heading', {name: 'Not readable: 1 file'}).waitFor({timeout: READ_MS});
  await page.getByRole('link', {name: 'Layouts', exact: true}).click();
  await page.setInputFiles('#choose-photo', ONE_CARD.path);
  await button('Save layout').waitFor({timeout: READ_MS});
});

test('a drawer of a thousand comes in without holding up the page', async () => {
  await enter(DESKTOP);
  // A few layouts stand for all, so that their drawings are made once.
  for (let k = 0; k < DRAWN; k += 1) await saveLayout(program.address, THANK_YOU);
  const outcomes = ['read', 'read', 'read', 'read', 'read', 'doubtful', 'read', 'already-there', 'read', 'blank'];
  const files = Array.from({length: MANY}, (_, at) => {
    const outcome = outcomes[at % outcomes.length];
    const layouts = outcome === 'read' || outcome === 'doubtful' ? [{id: (at % DRAWN) + 1}] : [];
    return {sequence: at + 1, number: at + 1, name: `drawer/scan ${at + 1}.jpg`, pages: [{page: 1, outcome, reason: outcome === 'doubtful' ? 'One shape is not sure: look whether it is on the drawing.' : '', layouts}]};
  });
  const now = (/** @type {number} */ done) => ({
    id: 1, state: done === MANY ? 'done' : 'running', open: false, card: 'A2', cards: [], made_at: '2026-03-05T14:20:00Z', finished_at: null,
    counts: {files: MANY, files_done: done, layouts: done, alike: 0, read: done, doubtful: done / 10, already_there: done / 10, blank: done / 10, no_layout: 0, which_card: 0, unreadable: 0},
  });
  await page.route('**/api/imports/1', (route) => route.fulfill({json: now(0)}));
  // The feed of a service that reads fifty files every tenth of a second: faster than any.
  await page.evaluate(({files, states}) => {
    class Feed extends EventTarget {
      readyState = 1;
      constructor() {
        super();
        let at = 0;
        const timer = setInterval(() => {
          for (const file of files.slice(at, at + 50)) this.dispatchEvent(new MessageEvent('file', {data: JSON.stringify(file)}));
          at += 50;
          this.dispatchEvent(new MessageEvent('import', {data: JSON.stringify(states[at / 50])}));
          if (at >= files.length) clearInterval(timer);
        }, 100);
      }

      close() {}
    }
    Object.assign(globalThis, {EventSource: Feed});
  }, {files, states: Array.from({length: MANY / 50 + 1}, (_, at) => now(at * 50))});

  await page.evaluate(() => { location.hash = '#/imports'; });
  await page.locator('#imports-heading:visible').waitFor();
  await browser.startTracing(page, {categories: ['disabled-by-default-devtools.timeline', 'toplevel']});
  await page.evaluate(() => { location.hash = '#/imports/1'; });
  await page.locator('.import-far').getByText('All read: 1,000 files.').waitFor();
  await page.getByRole('heading', {name: 'Read without doubt: 700'}).waitFor();
  // Down the drawer until all of it has been seen.
  await page.evaluate(async () => {
    for (let k = 0; k < 100; k += 1) {
      window.scrollBy(0, 400);
      await new Promise((resolve) => requestAnimationFrame(resolve));
    }
  });
  /** @type {{name: string, pid: number, tid: number, tdur?: number, args: {name?: string}}[]} */
  const events = JSON.parse((await browser.stopTracing()).toString()).traceEvents;
  const mains = new Set(events.filter(({name, args}) => name === 'thread_name' && args.name === 'CrRendererMain').map(({pid, tid}) => `${pid}:${tid}`));
  // The time the page's own thread worked, in ms: other work on the machine does not count.
  const tasks = events.filter(({name, pid, tid}) => name.endsWith('RunTask') && mains.has(`${pid}:${tid}`)).map(({tdur = 0}) => tdur / 1000);
  const longest = Math.max(...tasks);
  const laidOut = await page.locator('.import-tile').evaluateAll((tiles) => tiles.filter((one) => one.checkVisibility({contentVisibilityAuto: true})).length);
  const there = await page.locator('.import-tile').count();
  console.log(`# ${MANY} results: longest task ${longest.toFixed(0)} ms of ${tasks.length}, ${there} tiles, ${laidOut} laid out`);
  assert.ok(there > 300, `${there} tiles after scrolling`);
  assert.ok(laidOut <= MOST_LAID_OUT, `${laidOut} tiles are laid out at once`);
  assert.ok(longest > 0 && longest <= LONGEST_TASK_MS, `a task of ${longest} ms`);
});
