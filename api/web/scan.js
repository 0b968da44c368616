// The phone's page: take a photo, see it, keep it or throw it away, the next.

import {call} from './client.js';
import {make, setText, show} from './dom.js';
import {showLength} from './lengths.js';
import {countWords, shotWords, shown, unsent} from './scan-logic.js';
import {startSender} from './scan-sender.js';
import {openStore} from './scan-store.js';

/** @typedef {import('./scan-logic.js').Shot} Shot */
/** @typedef {import('./scan-sender.js').Told} Told */

const CARD_KEY = 'eighths.scan.card';
/** Longest side of the picture that is kept to be looked at, and its quality as a JPEG. */
const [THUMB_PX, THUMB_QUALITY] = [720, 0.7];

/** @template {HTMLElement} T @param {string} id @returns {T} */
const find = (id) => /** @type {T} */ (document.getElementById(id));
const [count, trouble, stage, list, announcer] = ['count', 'trouble', 'stage', 'shots', 'announcer'].map(find);
/** @type {HTMLInputElement[]} */
const [take, choose] = [find('take'), find('choose')];
/** @type {HTMLButtonElement[]} */
const [away, finish] = [find('throw'), find('finish')];
/** @type {HTMLSelectElement} */
const card = find('card');
const takeLabel = find('take-label');

/** Addresses of the pictures of shots. @type {Map<string, {thumb: ArrayBuffer | null, url: string}>} */
const urls = new Map();
/** The photo that was just taken, until there is a small picture of it. @type {Map<string, string>} */
const fresh = new Map();
/** @type {string} */
let heard = '';
/** @type {Told | null} */
let latest = null;
/** What the list shows. */
let listed = '';

/** @param {Shot} shot */
function urlOf(shot) {
  const known = urls.get(shot.id);
  if (known && known.thumb === shot.thumb) return known.url;
  if (known) URL.revokeObjectURL(known.url);
  urls.delete(shot.id);
  if (!shot.thumb) return fresh.get(shot.name) ?? '';
  const url = URL.createObjectURL(new Blob([shot.thumb], {type: 'image/jpeg'}));
  urls.set(shot.id, {thumb: shot.thumb, url});
  return url;
}

/** Said to those who listen, once. @param {string} text */
function say(text) {
  if (text === heard) return;
  heard = text;
  announcer.textContent = text;
}

/** @param {Told} told */
function update(told) {
  latest = told;
  const shots = shown(told.shots);
  const [now, ...before] = shots;
  setText(count, told.finishing ? 'Finishing…' : countWords(told.shots));
  updateTrouble(told);
  updateStage(now, told);
  setText(takeLabel, now ? 'Keep, next photo' : 'Take a photo');
  show(away, now !== undefined);
  show(finish, now !== undefined);
  finish.disabled = told.finishing;
  setText(finish, told.finishing ? 'Finishing…' : 'Finish');

  const words = before.map((shot) => [shot.id, shotWords(shot, told.away), shot.thumb !== null, shot.state]);
  const key = JSON.stringify(words);
  show(list, before.length > 0);
  if (key === listed) return;
  listed = key;
  const focused = document.activeElement?.id ?? '';
  list.replaceChildren(...before.map((shot) => shotItem(shot, told.away)));
  if (focused.startsWith('throw-')) document.getElementById(focused)?.focus();
}

/** @param {Told} told */
function updateTrouble({unpaired, away: isAway, fault, shots}) {
  const waiting = unsent(shots).length;
  const text = unpaired ? 'This phone is not paired any more.'
    : isAway && waiting > 0 ? `The computer does not answer. ${store.lasting ? 'What you take is kept here and sent as soon as it does.' : 'Leave this page open until it does: this browser keeps nothing for later.'}`
      : fault;
  show(trouble, text !== '');
  if (trouble.dataset.text === text) return;
  trouble.dataset.text = text;
  trouble.replaceChildren(text, ...(unpaired ? [' ', make('a', {href: '/pair'}, 'Pair it again'), ': what waits here is sent then.'] : []));
  if (text) say(text);
}

/**
 * The latest shot, as large as the screen allows, and what was read of it.
 * @param {Shot | undefined} shot
 * @param {Told} told
 */
function updateStage(shot, told) {
  if (!shot) {
    if (stage.dataset.shot !== '') {
      stage.dataset.shot = '';
      stage.replaceChildren(make('ul', {className: 'scan-hints'},
        make('li', {}, 'All four sides of the card in the picture.'),
        make('li', {}, 'Straight from above, the card filling most of it.'),
        make('li', {}, 'Even light, no shadow of your hand.')));
    }
    return;
  }
  const words = shotWords(shot, told.away);
  const layout = shot.result?.layouts[0];
  const key = JSON.stringify([shot.id, urlOf(shot), shot.result?.layouts]);
  if (stage.dataset.shot !== key) {
    stage.dataset.shot = key;
    const url = urlOf(shot);
    const photo = url ? [make('img', {src: url, alt: 'The photo you took'})] : [];
    const drawing = layout === undefined ? []
      : [make('img', {className: 'drawing', src: `/api/layouts/${layout}/drawing.svg?sizes=true`, alt: 'Drawing of what was read'})];
    stage.replaceChildren(
      ...(photo.length + drawing.length > 0 ? [make('div', {className: 'scan-pictures'}, ...photo, ...drawing)] : []),
      make('p', {className: 'scan-said'}));
  }
  const said = /** @type {HTMLElement} */ (stage.querySelector('.scan-said'));
  const sorry = shot.state === 'refused' || ['no-layout', 'blank', 'unreadable', 'which-card'].includes(shot.result?.outcome ?? '');
  said.classList.toggle('problem', sorry);
  said.classList.toggle('soft', shot.state === 'waiting' || shot.state === 'sent');
  setText(said, words);
  say(words);
}

/** @param {Shot} shot @param {boolean} isAway */
function shotItem(shot, isAway) {
  const url = urlOf(shot);
  const time = new Date(shot.at).toLocaleTimeString([], {hour: '2-digit', minute: '2-digit'});
  const layout = shot.result?.layouts[0];
  const words = shotWords(shot, isAway);
  return make('li', {className: 'scan-shot'},
    url ? make('img', {src: url, alt: ''}) : make('span', {className: 'blank'}),
    make('div', {},
      make('p', {className: 'when'}, `Taken at ${time}`),
      make('p', {}, layout === undefined ? words : make('a', {href: `/#/layouts/${layout}`}, words))),
    make('button', {
      type: 'button', id: `throw-${shot.id}`, className: 'button small danger', 'aria-label': `Throw away the photo taken at ${time}`,
      onclick: () => void throwAway(shot.id),
    }, 'Throw away'));
}

/**
 * A small picture of a photo; null where the browser cannot show it.
 * @param {Blob} file
 * @returns {Promise<ArrayBuffer | null>}
 */
async function thumbOf(file) {
  try {
    const picture = await createImageBitmap(file);
    const scale = Math.min(1, THUMB_PX / Math.max(picture.width, picture.height));
    const canvas = make('canvas', {width: Math.round(picture.width * scale), height: Math.round(picture.height * scale)});
    canvas.getContext('2d')?.drawImage(picture, 0, 0, canvas.width, canvas.height);
    picture.close();
    const blob = await new Promise((resolve) => canvas.toBlob(resolve, 'image/jpeg', THUMB_QUALITY));
    return blob ? await /** @type {Blob} */ (blob).arrayBuffer() : null;
  } catch {
    return null;
  }
}

const store = await openStore();
const sender = await startSender(store, update);

/** @param {HTMLInputElement} input */
async function added(input) {
  const files = [...input.files ?? []];
  for (const file of files) {
    const url = URL.createObjectURL(file);
    const thumb = thumbOf(file);
    // Seen at once, from the photo itself.
    const name = await sender.add(file, card.value, thumb, (made) => fresh.set(made, url));
    void thumb.then(() => {
      URL.revokeObjectURL(url);
      fresh.delete(name);
    });
  }
  input.value = '';
}

/** @param {string} id */
async function throwAway(id) {
  await sender.throwAway(id);
  say('Thrown away.');
  // The button is gone; the next thing to do is another photo.
  const active = document.activeElement;
  if (!active || active === document.body || active.closest('[hidden]')) take.focus();
}

for (const input of [take, choose]) {
  input.addEventListener('change', () => added(input).catch((error) => {
    show(trouble, true);
    setText(trouble, `This phone could not keep the photo (${error instanceof Error ? error.message : error}). Take it again.`);
  }));
}
away.addEventListener('click', () => {
  const shot = latest ? shown(latest.shots)[0] : undefined;
  if (shot) void throwAway(shot.id);
});
finish.addEventListener('click', async () => {
  await sender.finish();
  say('Finishing. What is left is sent and read.');
});
card.addEventListener('change', () => {
  try {
    localStorage.setItem(CARD_KEY, card.value);
  } catch {
    // A browser that keeps nothing asks again next time.
  }
});

/** The cards, or only the usual one while the service does not answer. */
async function fillCards() {
  let kept = 'A2';
  try {
    kept = localStorage.getItem(CARD_KEY) ?? kept;
  } catch {
    // As above.
  }
  const option = (/** @type {string} */ name, /** @type {string} */ words) => make('option', {value: name}, words);
  card.replaceChildren(option(kept, kept));
  const {body} = await call('GET', '/api/cards');
  /** @type {import('./client.js').Card[]} */
  const cards = body.cards;
  card.replaceChildren(...cards.map(({name, width, height, unit}) => option(name, `${name}: ${showLength(width, unit)} x ${showLength(height, unit)}`)));
  card.value = kept;
}
await fillCards().catch(() => null);
