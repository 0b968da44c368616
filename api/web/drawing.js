// The measured drawing of a layout as a tree of SVG nodes. Pure; no DOM:
// `dom.js` turns the tree into elements. Same scale, tints and outlines as the
// service's own drawing.

import {around, boxOf as boxRound} from './arrange.js';
import {bannerOutline} from './geometry.js';
import {convert, showLength} from './lengths.js';
import {sizeText} from './logic.js';

/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Element} Element */
/** @typedef {import('./logic.js').Point} Point */
/**
 * @typedef {object} Node
 * @property {string} tag
 * @property {Record<string, string | number>} attributes
 * @property {Node[]} [children]
 * @property {string} [text]
 */
/** @typedef {[number, number, number, number]} Box left, top, right, bottom in px */
/** @typedef {{x: number, y: number, size: number, text: string, upright: boolean}} Label */

/** CSS pixels of one inch (CSS Values and Units). */
const PX_PER_IN = 96;
/** Room around the card, in inches; more where distances are written there. */
const MARGIN_IN = 0.125;
const WIDE_MARGIN_IN = 0.4;
/** How far outside the card its own size is written, and how long the ticks are, in px. */
const [OUTSIDE_PX, TICK_PX] = [22, 5];
/** The shade that lifts the card off the page falls this far, in px. */
const SHADE_PX = 3;
/** Label height in px: the largest that stays calm, the smallest still read on a phone. */
const [LABEL_LARGEST, LABEL_SMALLEST] = [17, 10];
/** A digit is a little over half as wide as it is high. */
const DIGIT_WIDTH = 0.56;
/** Room a label keeps from the side of its shape, as a share of its height. */
const LABEL_INSET = 0.35;
const MAT_TINT = '#efe7d8';
const MARK_TINT = '#8a5a44';
const PAPER = '#ffffff';
/** One tint per slot letter, so that the same paper looks the same. */
const SLOT_TINTS = ['#f6dfc6', '#d7e5d4', '#d9e2ee', '#f2d9d9', '#e6dcf0', '#f4edc4', '#d3e8e6', '#eadfd3'];

/**
 * @param {Layout} record
 * @param {object} options
 * @param {boolean} options.sizes whether each shape has its size in it
 * @param {number[]} options.chosen ids of the shapes that are lit
 * @param {string} options.name makes ids of this drawing differ from those of others on the page
 * @param {boolean} [options.distances] whether the card's size and the distances of what is chosen are drawn
 * @param {import('./snapping.js').SnapLine[]} [options.lines] what a moved shape lines up with
 * @returns {Node}
 */
export function drawingOf(record, {sizes, chosen, name, distances = false, lines = []}) {
  const scale = convert(PX_PER_IN, record.unit, 'in');
  const [width, height] = [record.card.width * scale, record.card.height * scale];
  const margin = marginOf(distances) * PX_PER_IN;
  const shapes = record.elements.flatMap((element) => {
    const mats = [...(element.mats ?? [])].reverse().map((mat) => shapeOf(grown(element, mat), scale, MAT_TINT));
    const shape = shapeOf(element, scale, tintOf(element));
    shape.attributes['data-id'] = element.id;
    shape.attributes.class = chosen.includes(element.id) ? 'shape lit' : 'shape';
    return [...mats, shape];
  });
  const picked = record.elements.filter((element) => chosen.includes(element.id));
  const lit = picked.map((element) => {
    const shape = shapeOf(element, scale, 'none');
    shape.attributes.class = 'lit-outline';
    return shape;
  });
  const labels = sizes ? placeLabels(record, scale).map(labelNode) : [];
  const measures = distances ? measuresOf(record, picked, scale) : [];
  return {
    tag: 'svg',
    attributes: {
      viewBox: [-margin, -margin, width + 2 * margin, height + 2 * margin].map(tidy).join(' '),
      role: 'img',
      'aria-label': `Measured drawing with ${record.elements.length} elements; the table says the same`,
    },
    children: [
      {tag: 'rect', attributes: {...rect(SHADE_PX, SHADE_PX, width, height), class: 'card-shade'}},
      {tag: 'rect', attributes: {...rect(0, 0, width, height), class: 'card-front'}},
      {
        tag: 'clipPath',
        attributes: {id: `${name}-front`},
        children: [{tag: 'rect', attributes: rect(0, 0, width, height)}],
      },
      {tag: 'g', attributes: {'clip-path': `url(#${name}-front)`}, children: shapes},
      {tag: 'g', attributes: {class: 'sizes'}, children: labels},
      {tag: 'g', attributes: {}, children: lit},
      ...(lines.length > 0 ? [{tag: 'g', attributes: {class: 'snap-lines'}, children: lines.map((line) => snapLine(line, scale))}] : []),
      ...(measures.length > 0 ? [{tag: 'g', attributes: {class: 'measures'}, children: measures}] : []),
    ],
  };
}

/** Room round the card in inches. @param {boolean} distances */
export const marginOf = (distances) => (distances ? WIDE_MARGIN_IN : MARGIN_IN);

/**
 * @param {import('./snapping.js').SnapLine} line
 * @param {number} scale
 * @returns {Node}
 */
function snapLine({axis, at, from, to}, scale) {
  const [a, b, c] = [at, from, to].map((value) => tidy(value * scale));
  return {tag: 'line', attributes: axis === 'x' ? {x1: a, x2: a, y1: b, y2: c} : {x1: b, x2: c, y1: a, y2: a}};
}

/**
 * The card's own size outside it, and how far what is chosen is from each edge.
 * @param {Layout} record
 * @param {Element[]} picked
 * @param {number} scale
 * @returns {Node[]}
 */
function measuresOf({card, unit}, picked, scale) {
  const [width, height] = [card.width * scale, card.height * scale];
  const nodes = [
    ...measure(0, -OUTSIDE_PX, width, -OUTSIDE_PX, showLength(card.width, unit)),
    ...measure(-OUTSIDE_PX, 0, -OUTSIDE_PX, height, showLength(card.height, unit)),
  ];
  if (picked.length === 0) return nodes;
  const box = around(picked.map(boxRound));
  const [left, top] = [box.x * scale, box.y * scale];
  const [right, bottom] = [left + box.width * scale, top + box.height * scale];
  const [cx, cy] = [(left + right) / 2, (top + bottom) / 2];
  const say = (/** @type {number} */ value) => showLength(Math.round(value * 1e4) / 1e4, unit);
  /** @type {[number, number, number, number, number][]} */
  const gaps = [
    [0, cy, left, cy, box.x],
    [right, cy, width, cy, card.width - box.x - box.width],
    [cx, 0, cx, top, box.y],
    [cx, bottom, cx, height, card.height - box.y - box.height],
  ];
  for (const [x1, y1, x2, y2, value] of gaps) if (value > 0) nodes.push(...measure(x1, y1, x2, y2, say(value)));
  return nodes;
}

/**
 * A line with a tick at each end and its length beside it.
 * @param {number} x1
 * @param {number} y1
 * @param {number} x2
 * @param {number} y2
 * @param {string} text
 * @returns {Node[]}
 */
function measure(x1, y1, x2, y2, text) {
  const upright = x1 === x2;
  const [dx, dy] = upright ? [TICK_PX, 0] : [0, TICK_PX];
  const d = `M${tidy(x1)} ${tidy(y1)}L${tidy(x2)} ${tidy(y2)}` +
    [[x1, y1], [x2, y2]].map(([x, y]) => `M${tidy(x - dx)} ${tidy(y - dy)}L${tidy(x + dx)} ${tidy(y + dy)}`).join('');
  const [x, y] = [(x1 + x2) / 2, (y1 + y2) / 2];
  /** @type {Record<string, string | number>} */
  const place = {x: tidy(x), y: tidy(y), dy: '-0.35em', 'font-size': 13};
  if (upright) place.transform = `rotate(-90 ${tidy(x)} ${tidy(y)})`;
  return [{tag: 'path', attributes: {d}}, {tag: 'text', attributes: place, text}];
}

/**
 * Where each size is written: in its shape, where no higher shape and no
 * earlier label lies. A shape with no such place goes without; the table has it.
 * Higher shapes choose first, since they have fewer places to choose from.
 * @param {Layout} record
 * @param {number} scale px in one unit
 * @returns {Label[]}
 */
export function placeLabels(record, scale) {
  const boxes = record.elements.map((element) => boxOf(element, scale));
  /** @type {Label[]} */
  const labels = [];
  /** @type {Box[]} */
  const taken = [];
  for (let i = record.elements.length - 1; i >= 0; i -= 1) {
    const element = record.elements[i];
    if (element.shape === 'mark') continue;
    const above = boxes.slice(i + 1);
    const label = candidates(element, boxes[i], sizeText(element, record.unit)).find((candidate) => {
      const box = labelBox(candidate);
      return ![...above, ...taken].some((other) => overlap(box, other));
    });
    if (label) {
      labels.push(label);
      taken.push(labelBox(label));
    }
  }
  return labels.reverse();
}

/**
 * Places for a shape's label, best first: its middle, then along its sides.
 * @param {Element} element
 * @param {Box} box
 * @param {string} text
 * @returns {Label[]}
 */
function candidates(element, [left, top, right, bottom], text) {
  const [width, height] = [right - left, bottom - top];
  const [cx, cy] = [(left + right) / 2, (top + bottom) / 2];
  const round = element.shape === 'circle' || element.shape === 'oval';
  // Half way up a round shape's side there is less room than in the middle.
  const lying = labelSize(width * (round ? 0.6 : 1), height, text);
  const upright = labelSize(height * (round ? 0.6 : 1), width, text);
  const [ly, lx] = [lying * (0.5 + LABEL_INSET), upright * (0.5 + LABEL_INSET)];
  const inset = round ? Math.min(width, height) * 0.12 : 0;
  /** @type {Label[]} */
  const flat = lying < LABEL_SMALLEST ? [] : [
    {x: cx, y: cy, size: lying, text, upright: false},
    {x: cx, y: bottom - ly - inset, size: lying, text, upright: false},
    {x: cx, y: top + ly + inset, size: lying, text, upright: false},
    ...(round ? [] : [0.25, 0.75].flatMap((share) => [
      {x: cx, y: top + height * share, size: lying, text, upright: false},
    ])),
  ];
  /** @type {Label[]} */
  const standing = upright < LABEL_SMALLEST ? [] : [
    {x: cx, y: cy, size: upright, text, upright: true},
    {x: left + lx + inset, y: cy, size: upright, text, upright: true},
    {x: right - lx - inset, y: cy, size: upright, text, upright: true},
  ];
  return [...flat, ...standing];
}

/**
 * The largest letters that fit along a length and across a width; 0 when none do.
 * @param {number} along
 * @param {number} across
 * @param {string} text
 */
function labelSize(along, across, text) {
  const size = Math.min((along * 0.94) / (text.length * DIGIT_WIDTH), across * 0.8, LABEL_LARGEST);
  return size < LABEL_SMALLEST ? 0 : size;
}

/**
 * @param {Label} label
 * @returns {Box}
 */
function labelBox({x, y, size, text, upright}) {
  const [along, across] = [(text.length * size * DIGIT_WIDTH) / 2, size / 2];
  return upright ? [x - across, y - along, x + across, y + along] : [x - along, y - across, x + along, y + across];
}

/**
 * @param {Box} a
 * @param {Box} b
 */
function overlap(a, b) {
  return a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
}

/**
 * @param {Element} element
 * @param {number} scale
 * @returns {Box}
 */
function boxOf({x, y, width, height}, scale) {
  return [x * scale, y * scale, (x + width) * scale, (y + height) * scale];
}

/**
 * @param {Label} label
 * @returns {Node}
 */
function labelNode({x, y, size, text, upright}) {
  /** @type {Record<string, string | number>} */
  const attributes = {x: tidy(x), y: tidy(y), 'font-size': tidy(size), dy: '0.35em'};
  if (upright) attributes.transform = `rotate(-90 ${tidy(x)} ${tidy(y)})`;
  return {tag: 'text', attributes, text};
}

/**
 * @param {Element} element
 * @param {number} by
 * @returns {Element}
 */
function grown(element, by) {
  const {x, y, width, height} = element;
  return {...element, x: x - by / 2, y: y - by / 2, width: width + by, height: height + by};
}

/** @param {Element} element */
function tintOf(element) {
  if (element.shape === 'mark') return MARK_TINT;
  if (!element.slot) return PAPER;
  return SLOT_TINTS[(element.slot.charCodeAt(0) - 'A'.charCodeAt(0)) % SLOT_TINTS.length];
}

/**
 * @param {Element} element
 * @param {number} scale
 * @param {string} fill
 * @returns {Node}
 */
function shapeOf(element, scale, fill) {
  const [left, top, right, bottom] = boxOf(element, scale);
  const [cx, cy] = [(left + right) / 2, (top + bottom) / 2];
  /** @type {Record<string, string | number>} */
  const attributes = {fill};
  if (element.rotation) attributes.transform = `rotate(${tidy(element.rotation)} ${tidy(cx)} ${tidy(cy)})`;
  switch (element.shape) {
    case 'circle':
    case 'oval':
      return {
        tag: 'ellipse',
        attributes: {
          cx: tidy(cx), cy: tidy(cy), rx: tidy((right - left) / 2), ry: tidy((bottom - top) / 2), ...attributes,
        },
      };
    case 'banner':
      return {tag: 'polygon', attributes: {points: pointsText(bannerOutline(element), scale), ...attributes}};
    case 'mark':
      return markOf(element.kind ?? 'dot', cx, cy, Math.min(right - left, bottom - top) / 2, attributes);
    default:
      return {
        tag: 'rect',
        attributes: {
          ...rect(left, top, right - left, bottom - top),
          rx: tidy((element.corner_radius ?? 0) * scale),
          ...attributes,
        },
      };
  }
}

/**
 * @param {string} kind
 * @param {number} cx
 * @param {number} cy
 * @param {number} radius
 * @param {Record<string, string | number>} attributes
 * @returns {Node}
 */
function markOf(kind, cx, cy, radius, attributes) {
  if (kind === 'heart') {
    const [left, right, top, bottom] = [cx - radius, cx + radius, cy - radius, cy + radius].map(tidy);
    const [middle, notch] = [tidy(cx), tidy(cy - radius / 3)];
    const [low, side] = [tidy(cy + radius / 2), tidy(cy + radius / 3)];
    return {
      tag: 'path',
      attributes: {
        d: `M${middle} ${notch}C${middle} ${top} ${left} ${top} ${left} ${notch}S${middle} ${low} ${middle} ${bottom}` +
          `C${middle} ${low} ${right} ${side} ${right} ${notch}S${middle} ${top} ${middle} ${notch}Z`,
        ...attributes,
      },
    };
  }
  if (kind === 'star' || kind === 'flower') {
    const inner = kind === 'star' ? 0.4 : 0.7;
    /** @type {Point[]} */
    const outline = Array.from({length: 10}, (_, k) => {
      const reach = k % 2 === 0 ? radius : radius * inner;
      return [cx + reach * Math.sin((k * Math.PI) / 5), cy - reach * Math.cos((k * Math.PI) / 5)];
    });
    return {tag: 'polygon', attributes: {points: pointsText(outline, 1), ...attributes}};
  }
  return {tag: 'circle', attributes: {cx: tidy(cx), cy: tidy(cy), r: tidy(radius), ...attributes}};
}

/**
 * @param {number} x
 * @param {number} y
 * @param {number} width
 * @param {number} height
 */
function rect(x, y, width, height) {
  return {x: tidy(x), y: tidy(y), width: tidy(width), height: tidy(height)};
}

/**
 * @param {Point[]} outline
 * @param {number} scale
 */
export function pointsText(outline, scale) {
  return outline.map(([x, y]) => `${tidy(x * scale)},${tidy(y * scale)}`).join(' ');
}

/** @param {number} value */
function tidy(value) {
  return Number(value.toFixed(3));
}
