// Two layouts that look the same, side by side, and the question whether they are.

import {photoUrl} from './client.js';
import {ask, make, setText, show} from './dom.js';
import {many} from './import-logic.js';
import {picture} from './import-tiles.js';

/** @typedef {import('./import-actions.js').OpenImport} OpenImport */
/** @typedef {import('./import-actions.js').Pair} Pair */
/** @typedef {import('./import-actions.js').Side} Side */

/** Pictures as wide as they are shown on a screen of two pixels to a CSS pixel. */
const [PHOTO_PX, DRAWING_PX] = [640, 640];
/** Room around the card's outline, as a share of its size. */
const AROUND = 0.03;

/** @param {HTMLElement} place */
export function alikePart(place) {
  const count = make('p', {className: 'help'});
  const sides = make('div', {className: 'alike-sides'});
  const same = make('button', {type: 'button', className: 'button strong', id: 'alike-same', onclick: () => ask(place, 'settle-alike', {same: true})}, 'Same: keep the earlier one');
  const other = make('button', {type: 'button', className: 'button', id: 'alike-different', onclick: () => ask(place, 'settle-alike', {same: false})}, 'Different: keep both');
  const part = make('section', {className: 'paper import-alike', 'aria-labelledby': 'alike-heading'},
    make('h2', {id: 'alike-heading', tabIndex: -1}, 'The same layout?'), count, sides, make('div', {className: 'row'}, same, other));
  /** @type {Pair | null} */
  let shown = null;
  return {
    part,
    /** @param {OpenImport} open @param {number} left @param {boolean} busy */
    update({pair}, left, busy) {
      show(part, pair !== null);
      for (const button of [same, other]) if (button.disabled !== busy) button.disabled = busy;
      if (!pair) return;
      setText(count, left > 1 ? `${many(left, 'layout')} look like an earlier one. This is the first of them.` : 'This layout looks like an earlier one.');
      if (pair === shown) return;
      shown = pair;
      // What is gone cannot be kept.
      show(same, !pair.earlier.gone);
      sides.replaceChildren(side('Earlier', pair.earlier), side(`New, from ${pair.file}`, pair.now));
    },
  };
}

/** @param {string} words @param {Side} side */
function side(words, {id, gone, title, words: facts, version, photo, corners}) {
  const shown = gone ? [] : photo && corners.length === 4
    ? [cropped(photo, corners, title)]
    : [make('div', {className: 'alike-drawing'}, picture(`/api/layouts/${id}/versions/${version}/drawing.png?px=${DRAWING_PX}`, `The drawing of ${title}`))];
  return make('figure', {className: 'alike-side'}, ...shown,
    make('figcaption', {}, make('strong', {}, words), gone ? title : make('a', {href: `#/layouts/${id}`}, title), make('span', {className: 'help'}, facts)));
}

/**
 * The part of a photo with the card on it.
 * @param {{id: string, width: number, height: number}} photo
 * @param {import('./logic.js').Point[]} corners
 * @param {string} title
 */
function cropped({id, width, height}, corners, title) {
  const [left, right] = spread(corners.map(([x]) => x), width);
  const [top, bottom] = spread(corners.map(([, y]) => y), height);
  const [wide, high] = [right - left, bottom - top];
  const image = picture(photoUrl(id, Math.min(2560, Math.ceil((PHOTO_PX * width) / wide))), `The photo of ${title}`);
  Object.assign(image.style, {width: `${(100 * width) / wide}%`, height: `${(100 * height) / high}%`, left: `${(-100 * left) / wide}%`, top: `${(-100 * top) / high}%`});
  const frame = make('div', {className: 'alike-photo'}, image);
  frame.style.aspectRatio = `${wide} / ${high}`;
  // As high as the other at most, whatever its proportions.
  frame.style.maxWidth = `calc(24rem * ${wide / high})`;
  return frame;
}

/** @param {number[]} places @param {number} most @returns {[number, number]} */
function spread(places, most) {
  const [least, greatest] = [Math.min(...places), Math.max(...places)];
  const room = AROUND * (greatest - least);
  return [Math.max(0, least - room), Math.min(most, greatest + room)];
}
