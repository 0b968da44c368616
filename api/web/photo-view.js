// The photo with what was read drawn over it, and the card's four corners to
// be placed: by dragging, by arrow keys, or by choosing one and clicking its place.

import {photoUrl, WIDEST_PX} from './client.js';
import {ask, make, makeSvg, show, touchedId} from './dom.js';
import {pointsText} from './drawing.js';
import {bounds, outlineOnPhoto} from './geometry.js';
import {CORNERS, cornersMakeACard, draftOf, elementName} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./drawing.js').Node} Node */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Photo} Photo */
/** @typedef {import('./logic.js').Point} Point */
/** @typedef {import('./logic.js').Work} Work */

/** Width of the picture shown, in px; the magnifier looks at the widest there is. */
const PICTURE_PX = 1280;
/** Room shown round the card, as a share of its longer side. */
const ROOM = 0.06;
/** Photo pixels that an arrow key moves a corner; with Shift, ten times as far. */
const NUDGE_PX = 1;
const BIG_NUDGE_PX = 10;
/** The magnifier: its size on the screen and how much larger it shows the photo. */
const LENS_PX = 132;
const LENS_ZOOM = 3;
/** Room for a number on the photo, as a share of the shown width. */
const BADGE = 0.022;

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const glass = make('div', {className: 'glass'});
  const lens = make('canvas', {className: 'lens', width: LENS_PX, height: LENS_PX, hidden: true, 'aria-hidden': 'true'});
  const picture = new Image();
  /** @type {Work | null} */
  let work = null;

  const handles = CORNERS.map((name, corner) => make('button', {
    type: 'button', className: 'handle', 'aria-label': `Corner ${corner + 1}, ${name}`, 'aria-pressed': 'false',
    'aria-describedby': 'corner-help',
  }, make('span', {'aria-hidden': 'true'}, String(corner + 1))));
  const frame = make('div', {className: 'photo'}, glass, ...handles, lens);
  const help = make('p', {id: 'corner-help', className: 'help'},
    'Drag each corner to a corner of the card. Or choose one and click its place, or move it with the arrow keys (Shift moves further).');
  const trouble = make('p', {className: 'trouble'});
  const twist = make('p', {className: 'fault'}, 'These corners do not go round a card: 1 is top-left, then clockwise.');
  const cardSelect = make('select', {id: 'card-again'});
  const cardField = make('div', {className: 'field card-again'}, make('label', {htmlFor: 'card-again'}, 'Card'), cardSelect);
  const [adjust, read, cancel, whole] = [
    make('button', {type: 'button', className: 'button', id: 'adjust-corners', onclick: () => {
      ask(place, 'start-corners');
      handles[0].focus();
    }}, 'Adjust the corners'),
    make('button', {type: 'button', className: 'button strong', id: 'read-again', onclick: () => ask(place, 'read-again', {corners: work?.corners, card: cardSelect.value})}, 'Read again'),
    make('button', {type: 'button', className: 'button', onclick: () => {
      ask(place, 'stop-corners');
      adjust.focus();
    }}, 'Cancel'),
    make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'read-again', {frame: 'photo'})}, 'The whole photo is the card'),
  ];
  const busy = make('p', {className: 'help'}, 'Reading…');
  const part = make('figure', {className: 'picture'},
    make('figcaption', {}, 'Photo'), trouble, frame, twist,
    make('div', {className: 'row'}, adjust, cardField, read, cancel, whole, busy), help);
  place.append(part);

  /** @type {unknown[]} */
  let offered = [];
  /**
   * Lists the cards; the one in use is chosen, whatever it is.
   * @param {import('./actions.js').State} state
   * @param {string} card
   */
  const offerCards = ({cards}, card) => {
    if (offered[0] === cards && offered[1] === card) return;
    offered = [cards, card];
    const names = cards.map(({name}) => name);
    if (card && !names.includes(card)) names.unshift(card);
    cardSelect.replaceChildren(...names.map((name) => make('option', {value: name}, name)));
    cardSelect.value = card;
  };

  /** The part of the photo that is shown: left, top, width, height in photo pixels. */
  let view = [0, 0, 1, 1];
  /**
   * Where on the photo the pointer is.
   * @param {MouseEvent} event
   * @returns {Point}
   */
  const pointAt = (event) => {
    const box = glass.getBoundingClientRect();
    return [
      view[0] + ((event.clientX - box.left) / box.width) * view[2],
      view[1] + ((event.clientY - box.top) / box.height) * view[3],
    ];
  };

  glass.addEventListener('click', (event) => {
    if (!work) return;
    if (!work.corners) ask(place, 'pick-element', {id: touchedId(event)});
    else if (work.corner !== null) {
      ask(place, 'move-corner', {corner: work.corner, to: pointAt(event)});
      handles[work.corner].focus();
    }
  });
  handles.forEach((handle, corner) => {
    /** How far from the corner the pointer took hold. @type {Point | null} */
    let held = null;
    handle.addEventListener('pointerdown', (event) => {
      const at = work?.corners?.[corner];
      if (!at) return;
      const [x, y] = pointAt(event);
      held = [at[0] - x, at[1] - y];
      handle.setPointerCapture(event.pointerId);
      ask(place, 'choose-corner', {corner});
    });
    handle.addEventListener('pointermove', (event) => {
      if (!held) return;
      const [x, y] = pointAt(event);
      ask(place, 'move-corner', {corner, to: [x + held[0], y + held[1]]});
    });
    for (const end of ['pointerup', 'pointercancel']) handle.addEventListener(end, () => { held = null; });
    handle.addEventListener('focus', () => ask(place, 'choose-corner', {corner}));
    handle.addEventListener('keydown', (event) => {
      const at = work?.corners?.[corner];
      /** @type {Record<string, Point>} */
      const ways = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};
      const way = ways[event.key];
      if (!at || !way) return;
      event.preventDefault();
      const far = event.shiftKey ? BIG_NUDGE_PX : NUDGE_PX;
      ask(place, 'move-corner', {corner, to: [at[0] + way[0] * far, at[1] + way[1] * far]});
    });
  });

  const drawLens = () => {
    const at = work?.corner == null ? undefined : work.corners?.[work.corner];
    lens.hidden = !at || !work?.photo || !picture.complete || picture.naturalWidth === 0;
    if (at && work?.photo && !lens.hidden) magnify(lens, picture, work.photo, at, frame);
  };
  picture.addEventListener('load', drawLens);

  /** @type {unknown[]} */
  let shown = [];
  return {
    update(state) {
      ({work} = state);
      const photo = work?.photo ?? null;
      show(part, photo !== null);
      if (!work || !photo) return;
      const draft = draftOf(work);
      const placing = work.corners !== null;
      const reading = state.busy === 'reading';
      trouble.textContent = work.trouble ?? '';
      show(trouble, work.trouble !== null && !draft);
      show(adjust, !placing && !reading);
      adjust.textContent = draft ? 'Adjust corners or card' : 'Show the corners';
      show(cardField, placing && !reading);
      offerCards(state, work.card);
      show(read, placing && !reading);
      show(cancel, placing && !reading);
      show(whole, !draft && !placing && !reading);
      show(busy, reading);
      show(help, placing);
      const fine = !work.corners || cornersMakeACard(work.corners);
      show(twist, !fine);
      read.disabled = !fine;

      const address = photoUrl(photo.id, PICTURE_PX);
      const closeUp = photoUrl(photo.id, WIDEST_PX);
      if (placing && picture.getAttribute('src') !== closeUp) picture.src = closeUp;
      view = viewOf(photo, placing ? null : draft?.record ?? null);
      const now = [photo.id, draft?.record, work.picked, work.corners];
      if (now.some((value, i) => value !== shown[i])) {
        shown = now;
        frame.style.setProperty('--aspect', String(view[2] / view[3]));
        glass.replaceChildren(makeSvg(overlayOf(work, photo, draft?.record ?? null, view, address)));
      }
      handles.forEach((handle, i) => {
        const at = work?.corners?.[i];
        show(handle, at !== undefined);
        handle.setAttribute('aria-pressed', String(work?.corner === i));
        if (!at) return;
        handle.style.left = `${((at[0] - view[0]) / view[2]) * 100}%`;
        handle.style.top = `${((at[1] - view[1]) / view[3]) * 100}%`;
      });
      drawLens();
    },
  };
}

/**
 * The card with a little room round it, or the whole photo.
 * @param {Photo} photo
 * @param {Layout | null} record
 * @returns {[number, number, number, number]}
 */
function viewOf({width, height}, record) {
  const corners = record?.capture?.card_corners_px;
  if (corners?.length !== 4) return [0, 0, width, height];
  const [left, top, right, bottom] = bounds(corners);
  const room = ROOM * Math.max(right - left, bottom - top);
  const [x, y] = [Math.max(0, left - room), Math.max(0, top - room)];
  return [x, y, Math.min(width, right + room) - x, Math.min(height, bottom + room) - y];
}

/**
 * @param {Work} work
 * @param {Photo} photo
 * @param {Layout | null} record
 * @param {number[]} view
 * @param {string} address
 * @returns {Node}
 */
function overlayOf(work, photo, record, view, address) {
  /** @type {Node[]} */
  const children = [
    {tag: 'image', attributes: {href: address, x: 0, y: 0, width: photo.width, height: photo.height, preserveAspectRatio: 'none'}},
  ];
  const corners = work.corners ?? record?.capture?.card_corners_px;
  if (corners?.length === 4) children.push(polygon(corners, 'card-outline'));
  if (record && !work.corners) {
    const radius = Math.max(view[2], view[3]) * BADGE;
    /** @type {Point[]} */
    const taken = [];
    const badges = record.elements.flatMap((element, i) => {
      const outline = outlineOnPhoto(record, element);
      if (outline.length < 3) return [];
      const lit = element.id === work.picked ? ' lit' : '';
      const shape = polygon(outline, `outline${lit}`);
      shape.attributes['data-id'] = element.id;
      shape.children = [{tag: 'title', attributes: {}, text: elementName(record, element)}];
      children.push(shape);
      const [x, y] = badgePlace(outline, radius, taken);
      taken.push([x, y]);
      /** @type {Node} */
      const badge = {
        tag: 'g',
        attributes: {class: `badge${lit}`, 'data-id': element.id},
        children: [
          {tag: 'circle', attributes: {cx: x, cy: y, r: radius}},
          {tag: 'text', attributes: {x, y, 'font-size': radius * 1.3, dy: '0.35em'}, text: String(i + 1)},
        ],
      };
      return [badge];
    });
    children.push(...badges);
  }
  return {
    tag: 'svg',
    attributes: {
      viewBox: view.join(' '), role: 'img', preserveAspectRatio: 'none',
      'aria-label': record ? 'The photo with the outlines that were found; the table lists them' : 'The photo',
    },
    children,
  };
}

/**
 * On the outline, as near its top-left as numbers already placed leave room.
 * @param {Point[]} outline
 * @param {number} radius
 * @param {Point[]} taken
 * @returns {Point}
 */
function badgePlace(outline, radius, taken) {
  const round = outline.flatMap((here, i) => {
    const next = outline[(i + 1) % outline.length];
    return [0, 0.25, 0.5, 0.75].map((share) => /** @type {Point} */ ([
      here[0] + (next[0] - here[0]) * share,
      here[1] + (next[1] - here[1]) * share,
    ]));
  }).sort((a, b) => a[0] + a[1] - b[0] - b[1]);
  /** @param {Point} point */
  const free = ([x, y]) => taken.every((other) => Math.hypot(x - other[0], y - other[1]) > 2.2 * radius);
  return round.find(free) ?? round[0];
}

/**
 * @param {Point[]} points
 * @param {string} name
 * @returns {Node}
 */
function polygon(points, name) {
  return {tag: 'polygon', attributes: {points: pointsText(points, 1), class: name, 'vector-effect': 'non-scaling-stroke'}};
}

/**
 * Shows the surroundings of a corner larger, in the half of the picture where
 * the corner is not.
 * @param {HTMLCanvasElement} lens
 * @param {HTMLImageElement} picture
 * @param {Photo} photo
 * @param {Point} at
 * @param {HTMLElement} frame
 */
function magnify(lens, picture, photo, [x, y], frame) {
  lens.classList.toggle('above', y > photo.height / 2);
  const draw = lens.getContext('2d');
  if (!draw) return;
  const perPhotoPx = picture.naturalWidth / photo.width;
  const reach = ((LENS_PX / LENS_ZOOM) * picture.naturalWidth) / Math.max(1, frame.clientWidth);
  draw.fillStyle = '#2b2620';
  draw.fillRect(0, 0, LENS_PX, LENS_PX);
  draw.drawImage(picture, x * perPhotoPx - reach / 2, y * perPhotoPx - reach / 2, reach, reach, 0, 0, LENS_PX, LENS_PX);
  const middle = LENS_PX / 2;
  for (const [colour, thick] of /** @type {[string, number][]} */ ([['#ffffff', 3], ['#9a3412', 1]])) {
    draw.strokeStyle = colour;
    draw.lineWidth = thick;
    draw.beginPath();
    draw.moveTo(middle, 0);
    draw.lineTo(middle, LENS_PX);
    draw.moveTo(0, middle);
    draw.lineTo(LENS_PX, middle);
    draw.stroke();
  }
}
