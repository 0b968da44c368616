// Tiles of what came in: any number of them, made some at a time, and laid out
// by the browser only near the screen.

import {make, show} from './dom.js';
import {many} from './import-logic.js';

/** @typedef {import('./import-logic.js').Item} Item */

/** Tiles of one block: whole rows of two to six. */
const BLOCK = 60;
/** Tiles that are there at first and come with each look further down. */
const STEP = 120;
/** Tiles that are made in one frame: a few milliseconds on a slow machine. */
const MOST_A_FRAME = 20;
/** More are made when their place is this near to the screen, in px. */
const AHEAD_PX = 3000;
/** A picture that is not there yet is asked for again after so long, in ms, and so often. */
const [AGAIN_MS, MOST_TRIES] = [3_000, 5];

/**
 * @param {string} label
 * @param {(item: Item) => HTMLElement} tileOf
 */
export function tileBlocks(label, tileOf) {
  const grid = make('div', {className: 'grid', role: 'list', 'aria-label': label});
  const more = make('button', {type: 'button', className: 'button', onclick: () => further()});
  const root = make('div', {className: 'import-tiles'}, grid, more);
  /** @type {Item[]} */
  let wanted = [];
  /** @type {Map<Item, HTMLElement>} */
  let tiles = new Map();
  let most = STEP;
  let frame = 0;
  new IntersectionObserver((entries) => {
    if (entries.some(({isIntersecting}) => isIntersecting)) further();
  }, {rootMargin: `${AHEAD_PX}px`}).observe(more);

  function further() {
    if (most >= wanted.length) return;
    most += STEP;
    fill();
  }

  /** Brings the grid some tiles nearer to what is wanted. */
  function fill() {
    cancelAnimationFrame(frame);
    frame = 0;
    /** @type {Map<Item, HTMLElement>} */
    const next = new Map();
    let made = 0;
    for (const item of wanted.slice(0, most)) {
      const there = tiles.get(item);
      if (!there && made === MOST_A_FRAME) continue;
      if (!there) made += 1;
      next.set(item, there ?? tileOf(item));
    }
    for (const [item, tile] of tiles) if (!next.has(item)) tile.remove();
    tiles = next;
    const all = [...tiles.values()];
    const blocks = Math.ceil(all.length / BLOCK);
    while (grid.children.length < blocks) grid.append(make('div', {className: 'block', role: 'none'}));
    for (let k = 0; k < blocks; k += 1) place(grid.children[k], all.slice(k * BLOCK, (k + 1) * BLOCK));
    while (grid.children.length > blocks) grid.lastElementChild?.remove();
    const left = wanted.length - Math.min(most, wanted.length);
    show(more, left > 0);
    more.textContent = `Show more: ${many(left, 'picture')}`;
    if (tiles.size < Math.min(most, wanted.length)) frame = requestAnimationFrame(fill);
  }

  return {
    root,
    /** @param {Item[]} items */
    update(items) {
      if (items.length === wanted.length && items.every((item, at) => item === wanted[at])) return;
      wanted = items;
      fill();
    },
    /** @param {(item: Item, tile: HTMLElement) => void} act on each tile that is there */
    each(act) {
      for (const [item, tile] of tiles) act(item, tile);
    },
  };
}

/** Puts tiles at the block's beginning; what is behind them goes to the blocks after it. @param {Element} block @param {HTMLElement[]} tiles */
function place(block, tiles) {
  // Only how high a full one is can be told before it is laid out.
  block.classList.toggle('full', tiles.length === BLOCK);
  let next = block.firstElementChild;
  for (const tile of tiles) {
    if (tile === next) next = next.nextElementSibling;
    else block.insertBefore(tile, next);
  }
}

/**
 * A picture that is fetched near the screen, and again where the service was busy.
 * @param {string} src
 * @param {string} alt
 * @param {Record<string, unknown>} [more]
 */
export function picture(src, alt, more = {}) {
  let tries = 0;
  const image = make('img', {src, alt, loading: 'lazy', decoding: 'async', width: 160, height: 160, ...more});
  image.addEventListener('error', () => {
    tries += 1;
    if (tries <= MOST_TRIES) setTimeout(() => { image.src = `${src}&again=${tries}`; }, AGAIN_MS);
  });
  return image;
}
