// The photo with what was read drawn over it, the card's four corners to be
// placed (by dragging, by arrow keys, or by choosing one and clicking its
// place), and elements that were missed to be shown by two clicks.

import {photoUrl, WIDEST_PX} from './client.js';
import {ask, make, makeSvg, setText, show, touchedId} from './dom.js';
import {pointsText} from './drawing.js';
import {bounds, outlineOnPhoto} from './geometry.js';
import {sidesOnInk} from './ink.js';
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
/** A side of an added element goes to ink at most this far from the click, as a share of the shown width. */
const INK_REACH = 0.02;
/** Arrow keys move the cross that shows where an element was missed by this share of what is shown; with Shift, five times. */
const CROSS_STEP = 0.004;
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
  const cross = make('button', {
    type: 'button', className: 'cross', 'aria-label': 'Place on the photo', 'aria-describedby': 'adding-help', hidden: true,
  }, make('span', {'aria-hidden': 'true'}));
  const frame = make('div', {className: 'photo'}, glass, ...handles, cross, lens);
  const addingHelp = make('p', {id: 'adding-help', className: 'help'});
  const help = make('p', {id: 'corner-help', className: 'help'},
    'Drag each corner to a corner of the card. Or choose one and click its place, or move it with the arrow keys (Shift moves further).');
  const trouble = make('p', {className: 'trouble'});
  const twist = make('p', {className: 'fault'}, 'These corners do not go round a card: 1 is top-left, then clockwise.');
  const cardSelect = make('select', {id: 'card-again'});
  const cardField = make('div', {className: 'field card-again'}, make('label', {htmlFor: 'card-again'}, 'Card'), cardSelect);
  const missed = make('button', {type: 'button', className: 'button small', id: 'add-missed', onclick: () => {
    ask(place, 'start-adding');
    at = [view[0] + view[2] / 2, view[1] + view[3] / 2];
    cross.focus();
    drawCross();
  }}, 'Add what was missed');
  const [adjust, read, cancel, whole] = [
    make('button', {type: 'button', className: 'button small', id: 'adjust-corners', onclick: () => {
      ask(place, 'start-corners');
      handles[0].focus();
    }}, 'Adjust the corners'),
    make('button', {type: 'button', className: 'button strong', id: 'read-again', onclick: () => ask(place, 'read-again', {corners: work?.corners, card: cardSelect.value})}, 'Read again'),
    make('button', {type: 'button', className: 'button', onclick: () => {
      const back = work?.adding ? missed : adjust;
      ask(place, 'stop-corners');
      back.focus();
    }}, 'Cancel'),
    make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'read-again', {frame: 'photo'})}, 'The whole photo is the card'),
  ];
  const busy = make('p', {className: 'help'}, 'Reading…');
  const part = make('figure', {className: 'picture'},
    make('figcaption', {}, 'Photo'), trouble, frame, twist,
    make('div', {className: 'row'}, adjust, missed, cardField, read, cancel, whole, busy), help, addingHelp);
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

  /** Where the cross is, in photo pixels. @type {Point} */
  let at = [0, 0];
  const drawCross = () => {
    cross.style.left = `${((at[0] - view[0]) / view[2]) * 100}%`;
    cross.style.top = `${((at[1] - view[1]) / view[3]) * 100}%`;
    drawLens();
  };
  /** One corner of what was missed; the second makes the element. @param {Point} corner */
  const putCorner = async (corner) => {
    const first = work?.adding?.[0];
    if (!first) {
      ask(place, 'add-corner', {at: corner});
    } else {
      // The ink is looked for in the picture, which may still be on its way.
      await picture.decode().catch(() => undefined);
      ask(place, 'add-element', {box: onInk([first[0], first[1], corner[0], corner[1]])});
      document.getElementById('chosen-heading')?.focus();
    }
  };
  /**
   * The box with its sides on the ink near them.
   * @param {[number, number, number, number]} box in photo pixels
   */
  const onInk = (box) => {
    const photo = work?.photo;
    const grey = photo ? greyOf(picture) : null;
    if (!photo || !grey) return box;
    const [sx, sy] = [grey.width / photo.width, grey.height / photo.height];
    const reach = view[2] * INK_REACH * sx;
    const [left, top, right, bottom] = sidesOnInk(grey, [box[0] * sx, box[1] * sy, box[2] * sx, box[3] * sy], reach);
    return [left / sx, top / sy, right / sx, bottom / sy];
  };
  cross.addEventListener('keydown', (event) => {
    /** @type {Record<string, Point>} */
    const ways = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};
    const way = ways[event.key];
    if (event.key === 'Escape') cancel.click();
    if (!way) return;
    event.preventDefault();
    const far = view[2] * CROSS_STEP * (event.shiftKey ? 5 : 1);
    at = [
      Math.min(Math.max(at[0] + way[0] * far, view[0]), view[0] + view[2]),
      Math.min(Math.max(at[1] + way[1] * far, view[1]), view[1] + view[3]),
    ];
    drawCross();
  });
  cross.addEventListener('click', (event) => {
    if (event.detail === 0) void putCorner(at);
  });
  frame.addEventListener('pointermove', (event) => {
    if (!work) return;
    if (!work.adding) {
      if (!work.corners) ask(place, 'near-element', {id: touchedId(event)});
      return;
    }
    at = pointAt(event);
    drawCross();
  });
  frame.addEventListener('pointerleave', () => ask(place, 'near-element', {id: null}));

  glass.addEventListener('click', (event) => {
    if (!work) return;
    if (work.adding) {
      at = pointAt(event);
      void putCorner(at);
    } else if (!work.corners) ask(place, 'pick-element', {id: touchedId(event), more: event.shiftKey || event.ctrlKey || event.metaKey || several});
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
    const corner = work?.corner == null ? undefined : work.corners?.[work.corner];
    const looked = work?.adding ? at : corner;
    lens.hidden = !looked || !work?.photo || !picture.complete || picture.naturalWidth === 0;
    if (looked && work?.photo && !lens.hidden) magnify(lens, picture, work.photo, looked, view, frame);
  };
  picture.addEventListener('load', drawLens);

  // The picture stays when what lies over it is drawn anew.
  const image = makeSvg({tag: 'image', attributes: {preserveAspectRatio: 'none'}});
  const over = makeSvg({tag: 'g', attributes: {}});
  const drawn = makeSvg({tag: 'svg', attributes: {role: 'img', preserveAspectRatio: 'none'}});
  drawn.append(image, over);
  glass.append(drawn);
  let several = false;
  /** @type {unknown[]} */
  let shown = [];
  return {
    update(state) {
      ({work, several} = state);
      const photo = work?.photo ?? null;
      show(place, photo !== null);
      if (!work || !photo) return;
      const draft = draftOf(work);
      const placing = work.corners !== null;
      const adding = work.adding !== null;
      const reading = state.busy === 'reading';
      setText(trouble, work.trouble ?? '');
      show(trouble, work.trouble !== null && !draft);
      show(adjust, !placing && !adding && !reading);
      show(missed, !placing && !adding && !reading && draft?.record.capture?.card_corners_px?.length === 4);
      show(cross, adding);
      show(addingHelp, adding);
      const asked = work.adding?.length === 1 ? 'Now the opposite corner.' : 'Touch one corner of the shape that was missed, then the opposite one. Or move the cross with the arrow keys and press Enter at each.';
      setText(addingHelp, asked);
      frame.classList.toggle('adding', adding);
      setText(adjust, draft ? 'Adjust corners or card' : 'Show the corners');
      show(cardField, placing && !reading);
      offerCards(state, work.card);
      show(read, placing && !reading);
      show(cancel, (placing || adding) && !reading);
      show(whole, !draft && !placing && !reading);
      show(busy, reading);
      show(help, placing);
      const fine = !work.corners || cornersMakeACard(work.corners);
      show(twist, !fine);
      read.disabled = !fine;

      const address = photoUrl(photo.id, PICTURE_PX);
      const closeUp = photoUrl(photo.id, WIDEST_PX);
      if ((placing || adding) && picture.getAttribute('src') !== closeUp) picture.src = closeUp;
      view = viewOf(photo, placing ? null : draft?.record ?? null);
      const now = [photo.id, draft?.record, work.chosen, work.corners, work.adding];
      if (now.some((value, i) => value !== shown[i])) {
        shown = now;
        frame.style.setProperty('--aspect', String(view[2] / view[3]));
        if (image.getAttribute('href') !== address) image.setAttribute('href', address);
        for (const [name, value] of Object.entries({x: 0, y: 0, width: photo.width, height: photo.height})) image.setAttribute(name, String(value));
        drawn.setAttribute('viewBox', view.join(' '));
        drawn.setAttribute('aria-label', draft ? 'The photo with the outlines that were found; the table lists them' : 'The photo');
        over.replaceChildren(...overlayOf(work, draft?.record ?? null, view).map(makeSvg));
      }
      for (const shape of over.querySelectorAll('[data-id]')) {
        shape.classList.toggle('near', Number(shape.getAttribute('data-id')) === work.near);
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
 * @param {Layout | null} record
 * @param {number[]} view
 * @returns {Node[]}
 */
function overlayOf(work, record, view) {
  /** @type {Node[]} */
  const children = [];
  const corners = work.corners ?? record?.capture?.card_corners_px;
  if (corners?.length === 4) children.push(polygon(corners, 'halo'), polygon(corners, 'card-outline'));
  if (record && !work.corners) {
    const radius = Math.max(view[2], view[3]) * BADGE;
    /** @type {Point[]} */
    const taken = [];
    const badges = record.elements.flatMap((element, i) => {
      const outline = outlineOnPhoto(record, element);
      if (outline.length < 3) return [];
      const lit = work.chosen.includes(element.id) ? ' lit' : '';
      const shape = polygon(outline, `outline${lit}`);
      shape.attributes['data-id'] = element.id;
      shape.children = [{tag: 'title', attributes: {}, text: elementName(record, element)}];
      children.push(polygon(outline, 'halo'), shape);
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
  const [first] = work.adding ?? [];
  if (first) {
    const arm = Math.max(view[2], view[3]) * BADGE;
    children.push({
      tag: 'path',
      attributes: {
        d: `M${first[0] - arm} ${first[1]}h${2 * arm}M${first[0]} ${first[1] - arm}v${2 * arm}`, class: 'first-corner', 'vector-effect': 'non-scaling-stroke',
      },
    });
  }
  return children;
}

/** The picture's grey levels, once for each picture. @type {WeakMap<HTMLImageElement, {src: string, grey: import('./ink.js').Picture}>} */
const greys = new WeakMap();
/** Longest side of the copy in which ink is looked for, in px: an eighth of an inch is then some 30 px. */
const INK_PX = 1600;

/**
 * @param {HTMLImageElement} picture
 * @returns {import('./ink.js').Picture | null}
 */
function greyOf(picture) {
  if (!picture.complete || picture.naturalWidth === 0) return null;
  const known = greys.get(picture);
  if (known?.src === picture.src) return known.grey;
  const share = Math.min(1, INK_PX / Math.max(picture.naturalWidth, picture.naturalHeight));
  const [width, height] = [Math.round(picture.naturalWidth * share), Math.round(picture.naturalHeight * share)];
  const canvas = make('canvas', {width, height});
  const draw = canvas.getContext('2d', {willReadFrequently: true});
  if (!draw) return null;
  draw.drawImage(picture, 0, 0, width, height);
  const {data} = draw.getImageData(0, 0, width, height);
  const grey = new Uint8ClampedArray(width * height);
  // Luma as in Rec. 601.
  for (let i = 0; i < grey.length; i += 1) grey[i] = 0.299 * data[4 * i] + 0.587 * data[4 * i + 1] + 0.114 * data[4 * i + 2];
  greys.set(picture, {src: picture.src, grey: {width, height, grey}});
  return {width, height, grey};
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
 * @param {number[]} view
 * @param {HTMLElement} frame
 */
function magnify(lens, picture, photo, [x, y], view, frame) {
  lens.classList.toggle('above', y > view[1] + view[3] / 2);
  const draw = lens.getContext('2d');
  if (!draw) return;
  const perPhotoPx = picture.naturalWidth / photo.width;
  const reach = ((LENS_PX / LENS_ZOOM) * view[2] * perPhotoPx) / Math.max(1, frame.clientWidth);
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
