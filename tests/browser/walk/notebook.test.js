// From a photo to a saved layout and back, on the built program.

import assert from 'node:assert/strict';
import {describe, test} from 'node:test';

import {DESKTOP, drop, PHONE, READ_MS} from './program.js';
import {DOUBTFUL, FOUR_CARDS, ONE_CARD, saveLayout} from './samples.js';
import {enter, page, program, setStage} from './stage.js';

setStage();

/** @param {{width: number, height: number}} screen @param {import('playwright-core').BrowserContextOptions} [more] */
async function open(screen, more) {
  await enter(screen, more);
}

/** What the page last said aloud. */
const heard = () => page.locator('#announcer').textContent();
const width = (/** @type {string} */ name) => page.getByLabel(`Width of ${name}`, {exact: true});
const focusedId = () => page.evaluate(() => document.activeElement?.id ?? '');

async function readSample() {
  const {path, card} = ONE_CARD;
  await page.locator('#card').selectOption(card);
  await drop(page, path);
  await page.getByRole('button', {name: 'Save layout'}).waitFor({timeout: READ_MS});
}

/** @param {string} title */
const openTile = (title) => page.getByRole('link', {name: title}).click();

for (const [name, screen] of /** @type {const} */ ([['phone', PHONE], ['desktop', DESKTOP]])) {
  test(`a dropped photo is corrected, saved and still there after a reload (${name})`, async () => {
    await open(screen);
    await page.getByRole('heading', {name: 'Nothing saved yet'}).waitFor();
    await readSample();
    assert.match(await heard() ?? '', /^1 layout found/);
    assert.equal(await focusedId(), 'work-heading');
    const outlines = await page.locator('#photo-view .outline').count();
    const rows = await page.locator('.element-row').count();
    assert.ok(rows > 0);
    assert.equal(outlines, rows, 'each element of the table is drawn over the photo');
    assert.equal(await page.locator('#drawing-view .shape').count(), rows, 'and in the measured drawing');

    const first = page.locator('.element-row input.length').first();
    await first.fill('2 3/8');
    await first.press('Enter');
    await page.getByLabel('Title', {exact: true}).fill('Thank you, for Tomas');
    await page.getByLabel('Title', {exact: true}).press('Tab');
    await page.getByRole('button', {name: 'Save layout'}).click();

    const tile = page.getByRole('link', {name: 'Thank you, for Tomas'});
    await tile.waitFor();
    await page.waitForFunction(() => document.activeElement?.classList.contains('tile'));
    assert.equal(await heard(), 'Saved.');
    await page.reload();
    await tile.waitFor();
    const picture = tile.locator('img');
    await page.waitForFunction((img) => /** @type {HTMLImageElement} */ (img).naturalWidth > 0, await picture.elementHandle());
    await tile.click();
    await page.getByRole('heading', {name: 'Thank you, for Tomas'}).waitFor();
    assert.equal(await page.locator('.element-row input.length').first().inputValue(), '2 3/8');
    await page.locator('#photo-view .outline').first().waitFor();
  });
}

test('a right reading is two taps from the notebook: the photo, then save', async () => {
  await open(PHONE);
  const choosing = page.waitForEvent('filechooser');
  await page.getByText('Choose a photo').click(); // first tap
  await (await choosing).setFiles(ONE_CARD.path);
  const save = page.getByRole('button', {name: 'Save layout'});
  await save.waitFor({timeout: READ_MS});
  assert.ok(await save.evaluate((button) => button.getBoundingClientRect().bottom <= innerHeight), 'save is in reach without scrolling');
  await save.click(); // second tap
  await page.locator('.tile').waitFor();
});

test('a saved layout is opened, edited, deleted and brought back', async () => {
  await saveLayout(program.address, DOUBTFUL);
  await open(DESKTOP);
  await openTile('Get well, with a strip');
  await width('2 Strip').fill('2½');
  await width('2 Strip').press('Enter');
  await page.getByLabel('Notes').fill('Two greens.');
  await page.getByLabel('Tags').fill('get well, green');
  await page.getByRole('button', {name: 'Save changes'}).click();
  await page.locator('.message').getByText('Saved.').waitFor();
  const saved = await (await fetch(`${program.address}/api/layouts/1`)).json();
  assert.equal(saved.elements[1].width, 2.5);
  assert.equal(saved.elements[1].x, 0.875, 'it was centred and still is');
  assert.deepEqual([saved.notes, saved.tags, saved.version], ['Two greens.', ['get well', 'green'], 2]);

  await page.getByRole('button', {name: 'Delete this layout'}).click();
  await page.getByRole('heading', {name: 'Nothing saved yet'}).waitFor();
  await page.waitForFunction(() => document.activeElement?.id === 'undo-delete');
  await page.keyboard.press('Enter');
  await page.getByRole('link', {name: 'Get well, with a strip'}).waitFor();
  await page.waitForFunction(() => document.activeElement?.classList.contains('tile'));
  assert.equal((await (await fetch(`${program.address}/api/layouts/1`)).json()).elements[1].width, 2.5);
});

test('a wrong size is refused in words, keeps the typing, and holds up saving', async () => {
  await saveLayout(program.address, DOUBTFUL);
  await open(PHONE);
  await openTile('Get well, with a strip');
  await width('2 Strip').fill('3.3');
  await width('2 Strip').press('Tab');
  await page.getByText('“3.3” is between two eighths: the nearest are 3 1/4 and 3 3/8.').waitFor();
  assert.equal(await width('2 Strip').inputValue(), '3.3');
  assert.equal(await width('2 Strip').getAttribute('aria-invalid'), 'true');
  await page.getByLabel('Title', {exact: true}).fill('Other');
  await page.getByLabel('Title', {exact: true}).press('Tab');
  await page.getByRole('button', {name: 'Save changes'}).click();
  assert.equal(await page.evaluate(() => document.activeElement?.getAttribute('aria-label')), 'Width of 2 Strip');
  await page.keyboard.press('Escape');
  assert.equal(await width('2 Strip').inputValue(), '3');
  await page.getByRole('button', {name: 'Save changes'}).click();
  await page.locator('.message').getByText('Saved.').waitFor();
});

describe('what the reading was unsure of', () => {
  for (const answer of ['3', '3 1/8']) {
    test(`a doubtful size is settled by one press of ${answer}`, async () => {
      await saveLayout(program.address, DOUBTFUL);
      await open(DESKTOP);
      await openTile('Get well, with a strip');
      await page.getByText('2 Strip: 3 or 3 1/8 wide?').waitFor();
      await page.getByRole('button', {name: `${answer}, for 2 Strip`}).press('Enter');
      await page.getByText('2 Strip: 3 or 3 1/8 wide?').waitFor({state: 'detached'});
      assert.equal(await width('2 Strip').inputValue(), answer);
      assert.match(await page.evaluate(() => document.activeElement?.textContent ?? ''), /Keep it/, 'the keyboard goes on to the next question');
    });
  }

  test('a doubtful size is settled by one key, whichever answer has the keyboard', async () => {
    await saveLayout(program.address, DOUBTFUL);
    await open(DESKTOP);
    await openTile('Get well, with a strip');
    await page.getByRole('button', {name: '3, for 2 Strip'}).focus();
    await page.keyboard.press('2');
    assert.equal(await width('2 Strip').inputValue(), '3 1/8');
  });

  test('a faint element is kept or deleted, a warning is a sentence', async () => {
    await saveLayout(program.address, DOUBTFUL);
    await open(PHONE);
    await openTile('Get well, with a strip');
    await page.getByText('The strip runs close to the edge: check its width.').waitFor();
    await page.getByRole('button', {name: /^Delete it, for 3 Heart/}).click();
    assert.equal(await page.locator('.element-row').count(), 2);
    await page.getByRole('button', {name: 'Undo', exact: true}).click();
    assert.equal(await page.locator('.element-row').count(), 3);
  });
});

test('touching a shape lights it in the drawing and the table, with more than colour', async () => {
  await saveLayout(program.address, DOUBTFUL);
  await open(DESKTOP);
  await openTile('Get well, with a strip');
  await page.locator('#drawing-view .shape[data-id="2"]').click();
  const name = page.getByRole('button', {name: '2 Strip', exact: true});
  assert.equal(await name.getAttribute('aria-pressed'), 'true');
  assert.equal(await page.locator('#drawing-view .lit-outline').count(), 1);
  await page.getByRole('button', {name: '1 Background', exact: true}).focus();
  assert.equal(await page.locator('#drawing-view .shape.near').getAttribute('data-id'), '1', 'the keyboard lights it as well');
});

test('an element is deleted by a key and the keyboard stays in the table', async () => {
  await saveLayout(program.address, DOUBTFUL);
  await open(DESKTOP);
  await openTile('Get well, with a strip');
  await page.getByRole('button', {name: '2 Strip', exact: true}).focus();
  await page.keyboard.press('Delete');
  assert.equal(await page.locator('.element-row').count(), 2);
  assert.equal(await page.evaluate(() => document.activeElement?.textContent?.trim()), '2 Heart');
  await page.keyboard.press('Control+z');
  assert.equal(await page.locator('.element-row').count(), 3);
});

test('an element touched on the photo or the drawing is deleted by a key', async () => {
  await open(DESKTOP);
  await readSample();
  const rows = await page.locator('.element-row').count();
  await page.locator('#photo-view .badge[data-id="2"]').click();
  await page.keyboard.press('Delete');
  await page.locator('#drawing-view .shape').last().click();
  await page.keyboard.press('Delete');
  assert.equal(await page.locator('.element-row').count(), rows - 2);
});

test('arrow keys step a size by an eighth and a place by a sixteenth', async () => {
  await saveLayout(program.address, DOUBTFUL);
  await open(DESKTOP);
  await openTile('Get well, with a strip');
  await width('1 Background').press('ArrowDown');
  assert.equal(await width('1 Background').inputValue(), '3 7/8');
  const left = page.getByLabel('Distance from the left of 1 Background');
  assert.equal(await left.inputValue(), '3/16', 'it stays centred');
  await left.press('ArrowUp');
  assert.equal(await left.inputValue(), '1/4');
});

test('a save that comes second is told, and both versions are kept', async () => {
  const {etag} = await saveLayout(program.address, DOUBTFUL);
  await open(DESKTOP);
  await openTile('Get well, with a strip');
  await page.getByLabel('Title', {exact: true}).fill('Mine');
  await page.getByLabel('Title', {exact: true}).press('Tab');
  const other = await fetch(`${program.address}/api/layouts/1`, {
    method: 'PUT', headers: {'Content-Type': 'application/json', 'If-Match': etag},
    body: JSON.stringify({...DOUBTFUL, title: 'Theirs'}),
  });
  assert.equal(other.status, 200);
  const save = page.getByRole('button', {name: 'Save changes'});
  const dialog = page.getByRole('dialog', {name: 'Changed somewhere else'});

  await save.click();
  await dialog.getByRole('button', {name: 'Show the saved one'}).click();
  await page.getByRole('heading', {name: 'Theirs'}).waitFor();
  await page.getByRole('button', {name: 'Undo', exact: true}).click();
  await page.getByRole('heading', {name: 'Mine'}).waitFor();

  // The service's newer version is known now, so this save would be taken: make it stale once more.
  const newest = (await fetch(`${program.address}/api/layouts/1`)).headers.get('etag') ?? '';
  await fetch(`${program.address}/api/layouts/1`, {
    method: 'PUT', headers: {'Content-Type': 'application/json', 'If-Match': newest},
    body: JSON.stringify({...DOUBTFUL, title: 'Theirs again'}),
  });
  await save.click();
  await dialog.getByRole('button', {name: 'Save mine as a copy'}).click();
  await page.getByRole('heading', {name: 'Mine (copy)'}).waitFor();
  const {layouts} = await (await fetch(`${program.address}/api/layouts`)).json();
  assert.deepEqual(layouts.map((/** @type {{title: string}} */ one) => one.title).sort(), ['Mine (copy)', 'Theirs again']);
});

describe('the corners of the card', () => {
  /** @param {string} name */
  const corner = (name) => page.getByRole('button', {name: new RegExp(`^Corner \\d, ${name}$`)});
  /** @param {string} name */
  const middle = async (name) => {
    const box = await corner(name).boundingBox();
    assert.ok(box);
    return [box.x + box.width / 2, box.y + box.height / 2];
  };
  /** @param {number[]} got @param {number[]} expected */
  const near = (got, expected) => assert.ok(
    Math.hypot(got[0] - expected[0], got[1] - expected[1]) < 2, `${got} is not near ${expected}`,
  );

  test('are placed by keys, by a click and by dragging, then read again', async () => {
    await open(DESKTOP);
    await readSample();
    await page.getByLabel('Title', {exact: true}).fill('Thank you, for Tomas');
    await page.getByRole('button', {name: 'Adjust corners or card'}).click();
    assert.equal(await page.evaluate(() => document.activeElement?.getAttribute('aria-label')), 'Corner 1, top-left');
    await page.locator('.lens:not([hidden])').waitFor();

    let [x, y] = await middle('top-left');
    for (let press = 0; press < 5; press += 1) await page.keyboard.press('Shift+ArrowRight');
    const moved = await middle('top-left');
    assert.ok(moved[0] > x && Math.abs(moved[1] - y) < 1, 'arrow keys move it sideways');
    for (let press = 0; press < 5; press += 1) await page.keyboard.press('Shift+ArrowLeft');
    near(await middle('top-left'), [x, y]);

    [x, y] = await middle('bottom-right');
    await corner('bottom-right').click();
    assert.equal(await corner('bottom-right').getAttribute('aria-pressed'), 'true');
    await page.mouse.click(x - 40, y - 40);
    near(await middle('bottom-right'), [x - 40, y - 40]);

    await page.mouse.move(x - 40, y - 40);
    await page.mouse.down();
    await page.mouse.move(x - 10, y - 5, {steps: 4});
    await page.mouse.move(x, y, {steps: 4});
    await page.mouse.up();
    near(await middle('bottom-right'), [x, y]);

    const answer = page.waitForResponse((response) => /\/read$/.test(response.url()), {timeout: READ_MS});
    await page.getByRole('button', {name: 'Read again'}).click();
    const response = await answer;
    assert.equal(response.status(), 200, await response.text());
    const sent = response.request().postDataJSON();
    assert.equal(sent.corners.length, 4);
    await page.getByRole('button', {name: 'Adjust corners or card'}).waitFor({timeout: READ_MS});
    assert.match(await heard() ?? '', /^Read again/);
    assert.equal(await page.getByLabel('Title', {exact: true}).inputValue(), 'Thank you, for Tomas', 'what was typed stays');
  });

  test('crossed corners are told and cannot be read', async () => {
    await open(DESKTOP);
    await readSample();
    await page.getByRole('button', {name: 'Adjust corners or card'}).click();
    const [x, y] = await middle('top-right');
    await corner('top-left').click();
    await page.mouse.click(x + 30, y + 5);
    await page.getByText('These corners do not go round a card').waitFor();
    assert.equal(await page.getByRole('button', {name: 'Read again'}).isDisabled(), true);
  });
});

test('a photo with no card says what would help, and is kept', async () => {
  await open(PHONE);
  await page.evaluate(async () => {
    const canvas = document.createElement('canvas');
    [canvas.width, canvas.height] = [600, 800];
    const draw = /** @type {CanvasRenderingContext2D} */ (canvas.getContext('2d'));
    draw.fillStyle = '#f0eee8';
    draw.fillRect(0, 0, 600, 800);
    const blob = await new Promise((/** @type {(blob: Blob) => void} */ done) => canvas.toBlob((made) => done(/** @type {Blob} */ (made)), 'image/png'));
    const transfer = new DataTransfer();
    transfer.items.add(new File([blob], 'blank.png', {type: 'image/png'}));
    document.body.dispatchEvent(new DragEvent('drop', {bubbles: true, dataTransfer: transfer}));
  });
  await page.getByRole('heading', {name: 'Where is the card?'}).waitFor({timeout: READ_MS});
  await page.locator('.trouble').getByText(/^No card outline found/).waitFor();
  await page.getByRole('button', {name: 'The whole photo is the card'}).waitFor();
  await page.getByRole('button', {name: 'Show the corners'}).click();
  assert.equal(await page.getByRole('button', {name: /^Corner/}).count(), 4);
});

test('a file that is no picture is refused in words and the page goes on', async () => {
  await open(PHONE);
  await page.setInputFiles('#choose-photo', {name: 'letter.jpg', mimeType: 'image/jpeg', buffer: Buffer.from('Dear Ines')});
  await page.locator('#intake .problem').getByText(/no picture or PDF I can read: use JPEG/).waitFor();
  assert.equal(await page.getByText('Choose a photo').isVisible(), true);
});

test('several layouts on a photo are kept or dropped one by one', async () => {
  await open(PHONE);
  await drop(page, FOUR_CARDS.path);
  await page.getByRole('button', {name: /^Save \d of \d$/}).waitFor({timeout: READ_MS});
  const count = await page.getByRole('checkbox', {name: /^Keep layout/}).count();
  assert.ok(count >= 2, `${count} layouts were found on the page of four`);
  await page.getByRole('button', {name: `Save ${count} of ${count}`}).waitFor();
  await page.getByRole('button', {name: 'Layout 2'}).click();
  await page.getByLabel('Title', {exact: true}).fill('The second');
  await page.getByLabel('Title', {exact: true}).press('Tab');
  await page.getByLabel('Keep layout 1').uncheck();
  await page.getByRole('button', {name: `Save ${count - 1} of ${count}`}).click();
  await page.getByRole('link', {name: 'The second'}).waitFor();
  assert.equal(await page.locator('.tile').count(), count - 1);
});

test('unsaved work outlives a reload and is not swept away', async () => {
  await saveLayout(program.address, DOUBTFUL);
  await open(DESKTOP);
  await openTile('Get well, with a strip');
  await page.getByLabel('Title', {exact: true}).fill('Half done');
  await page.getByLabel('Title', {exact: true}).press('Tab');
  await page.reload();
  await page.getByRole('heading', {name: 'Half done'}).waitFor();
  await page.getByRole('link', {name: 'Your layouts'}).click();
  await page.getByText('A layout is waiting to be saved.').waitFor();
  await page.getByRole('link', {name: 'Go on with it'}).click();
  await page.getByRole('button', {name: 'Save changes'}).click();
  await page.locator('.message').getByText('Saved.').waitFor();
});

test('a service that is away is told, and the work stays', async () => {
  await saveLayout(program.address, DOUBTFUL);
  await open(DESKTOP);
  await openTile('Get well, with a strip');
  await page.getByLabel('Title', {exact: true}).fill('Away');
  await page.getByLabel('Title', {exact: true}).press('Tab');
  await page.context().setOffline(true);
  await page.getByRole('button', {name: 'Save changes'}).click();
  await page.locator('.message').getByText(/The service is away\. Your changes wait in this browser/).waitFor();
  await page.getByText('1 save waits in this browser').waitFor();
  await page.context().setOffline(false);
  await page.locator('.message').getByText('The service is back: 1 layout saved.').waitFor();
  assert.equal((await (await fetch(`${program.address}/api/layouts/1`)).json()).title, 'Away');
});

test('an address of no layout leads to the notebook with a sentence', async () => {
  await open(DESKTOP);
  await page.goto(`${program.address}/#/layouts/4711`);
  await page.locator('#intake .problem').getByText(/no layout/i).waitFor();
});
