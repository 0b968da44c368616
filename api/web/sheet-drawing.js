// A sheet and how it is cut, as a tree of SVG nodes: pieces with their
// letters, offcuts hatched, cuts with their numbers. Pure; no DOM.

/** @typedef {import('./drawing.js').Node} Node */
/** @typedef {import('./batch-logic.js').PlannedSheet} PlannedSheet */

/** The longer side of a sheet, in px of the drawing, as wide as a phone shows it; and room around it for the numbers at its edge. */
const [LONGEST_PX, MARGIN_PX] = [420, 12];
/** Height of the largest and the smallest letter, in px. */
const [LETTER_LARGEST, LETTER_SMALLEST] = [26, 10];
/** Radius of the disc behind a cut's number, in px. */
const NUMBER_PX = 10;
/** Where on its cut a number may lie, the middle first; the place farthest from letters and other numbers is taken. */
const PLACES = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8, 0.12, 0.88];
/** Farther apart than this nothing is in the way, in px. */
const FAR_PX = 40;

/**
 * @param {PlannedSheet} sheet
 * @returns {Node}
 */
export function sheetDrawing(sheet) {
  const scale = LONGEST_PX / Math.max(sheet.width, sheet.height);
  const box = (/** @type {import('./batch-logic.js').Rectangle} */ {x, y, width, height}) =>
    ({x: px(x * scale), y: px(y * scale), width: px(width * scale), height: px(height * scale)});
  const hatch = `hatch-${sheet.number}`;
  const whole = box({x: 0, y: 0, width: sheet.width, height: sheet.height});
  /** @type {Node[]} */
  const shapes = [{tag: 'rect', attributes: {...whole, class: 'sheet-whole'}}];
  for (const offcut of sheet.offcuts) {
    shapes.push({tag: 'rect', attributes: {...box(offcut), fill: `url(#${hatch})`, class: 'sheet-offcut'}});
  }
  for (const piece of sheet.pieces) {
    const at = box(piece);
    const size = Math.max(LETTER_SMALLEST, Math.min(LETTER_LARGEST, at.width * 0.5, at.height * 0.6));
    shapes.push({tag: 'rect', attributes: {...at, class: piece.face === 0 ? 'sheet-piece' : 'sheet-piece sheet-back'}}, {
      tag: 'text', text: piece.letter,
      attributes: {x: px(at.x + at.width / 2), y: px(at.y + at.height / 2), 'font-size': px(size), 'text-anchor': 'middle', 'dominant-baseline': 'central', class: 'sheet-letter'},
    });
  }
  const cuts = sheet.cuts.map(({part, upright, at, number}) => {
    const [x, y, width, height] = [part.x, part.y, part.width, part.height].map((side) => side * scale);
    const across = at * scale;
    return {
      number,
      from: upright ? [x + across, y] : [x, y + across],
      to: upright ? [x + across, y + height] : [x + width, y + across],
    };
  });
  for (const {from, to} of cuts) {
    shapes.push({tag: 'line', attributes: {x1: px(from[0]), y1: px(from[1]), x2: px(to[0]), y2: px(to[1]), class: 'sheet-cut'}});
  }
  const taken = sheet.pieces.map(({x, y, width, height}) => [(x + width / 2) * scale, (y + height / 2) * scale]);
  for (const {number, from, to} of cuts) {
    const places = PLACES.map((along) => [0, 1].map((axis) => from[axis] + (to[axis] - from[axis]) * along));
    const room = places.map(([x, y]) => Math.min(FAR_PX, ...taken.map((other) => Math.hypot(x - other[0], y - other[1]))));
    const place = places[room.indexOf(Math.max(...room))];
    taken.push(place);
    const [cx, cy] = place.map(px);
    shapes.push({tag: 'circle', attributes: {cx, cy, r: NUMBER_PX, class: 'sheet-number-ground'}}, {
      tag: 'text', text: String(number),
      attributes: {x: cx, y: cy, 'font-size': 12, 'text-anchor': 'middle', 'dominant-baseline': 'central', class: 'sheet-number'},
    });
  }
  const [width, height] = [whole.width + 2 * MARGIN_PX, whole.height + 2 * MARGIN_PX];
  return {
    tag: 'svg',
    attributes: {viewBox: `${-MARGIN_PX} ${-MARGIN_PX} ${width} ${height}`, width, height, class: 'sheet-drawing'},
    children: [{
      tag: 'defs', attributes: {}, children: [{
        tag: 'pattern', attributes: {id: hatch, width: 10, height: 10, patternUnits: 'userSpaceOnUse', patternTransform: 'rotate(45)'},
        children: [{tag: 'line', attributes: {x1: 0, y1: 0, x2: 0, y2: 10, class: 'sheet-hatch'}}],
      }],
    }, ...shapes],
  };
}

/** Two decimals of a pixel are enough. @param {number} value */
const px = (value) => Number(value.toFixed(2));
