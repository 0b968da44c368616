// From inches on the card to pixels on the photo, and the outlines of shapes.
// Pure; no DOM. The projective map is the one that four point pairs fix
// (Heckbert, "Fundamentals of Texture Mapping and Image Warping", 1989).

/** @typedef {import('./logic.js').Point} Point */
/** @typedef {import('./logic.js').Element} Element */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').End} End */

/** Points round an ellipse: enough that no facet shows at screen size. */
const ELLIPSE_POINTS = 48;
/**
 * An outline found on the photo is shown as long as it lies within this of the
 * element's numbers, as a share of the card's shorter side: snapping moves a
 * side by a sixteenth and a loose hand by as much again. Beyond, the person
 * has corrected the element and the numbers are shown instead.
 */
const AGREES = 0.04;

/**
 * The map that takes the card (0..width, 0..height) onto four corners.
 * @param {number} width
 * @param {number} height
 * @param {Point[]} corners top-left, top-right, bottom-right, bottom-left
 * @returns {(point: Point) => Point}
 */
export function projection(width, height, corners) {
  return ([x, y]) => {
    const [u, v, w] = rowOf(corners, [x / width, y / height]);
    return [u / w, v / w];
  };
}

/**
 * A point of the unit square on the photo, in homogeneous coordinates.
 * @param {Point[]} corners
 * @param {Point} point
 */
function rowOf([[x0, y0], [x1, y1], [x2, y2], [x3, y3]], [u, v]) {
  const [dx1, dx2, sx] = [x1 - x2, x3 - x2, x0 - x1 + x2 - x3];
  const [dy1, dy2, sy] = [y1 - y2, y3 - y2, y0 - y1 + y2 - y3];
  const below = dx1 * dy2 - dx2 * dy1;
  const g = (sx * dy2 - dx2 * sy) / below;
  const h = (dx1 * sy - sx * dy1) / below;
  return [
    (x1 - x0 + g * x1) * u + (x3 - x0 + h * x3) * v + x0,
    (y1 - y0 + g * y1) * u + (y3 - y0 + h * y3) * v + y0,
    g * u + h * v + 1,
  ];
}

/**
 * The way back: from the photo onto the card.
 * @param {number} width
 * @param {number} height
 * @param {Point[]} corners
 * @returns {(point: Point) => Point}
 */
export function unprojection(width, height, corners) {
  const [o, a, b] = /** @type {Point[]} */ ([[0, 0], [1, 0], [0, 1]]).map((point) => rowOf(corners, point));
  // Rows of the map in homogeneous coordinates, then its adjugate.
  const m = [
    [a[0] - o[0], b[0] - o[0], o[0]],
    [a[1] - o[1], b[1] - o[1], o[1]],
    [a[2] - o[2], b[2] - o[2], o[2]],
  ];
  const minor = (/** @type {number} */ r, /** @type {number} */ c) => {
    const [r1, r2, c1, c2] = [(r + 1) % 3, (r + 2) % 3, (c + 1) % 3, (c + 2) % 3];
    return m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1];
  };
  return ([x, y]) => {
    const [u, v, w] = [0, 1, 2].map((row) => minor(0, row) * x + minor(1, row) * y + minor(2, row));
    return [(u / w) * width, (v / w) * height];
  };
}

/**
 * An element's outline on the card, turned as it lies, in the record's unit.
 * @param {Element} element
 * @returns {Point[]}
 */
export function outlineOnCard(element) {
  const {x, y, width, height} = element;
  /** @type {Point} */
  const middle = [x + width / 2, y + height / 2];
  const angle = ((element.rotation ?? 0) * Math.PI) / 180;
  return plainOutline(element).map((point) => turned(point, middle, angle));
}

/**
 * @param {Element} element
 * @returns {Point[]}
 */
function plainOutline(element) {
  const {x, y, width, height} = element;
  if (element.shape === 'banner') return bannerOutline(element);
  if (element.shape === 'rectangle') {
    return [[x, y], [x + width, y], [x + width, y + height], [x, y + height]];
  }
  return Array.from({length: ELLIPSE_POINTS}, (_, k) => {
    const angle = (2 * Math.PI * k) / ELLIPSE_POINTS;
    return [x + (width / 2) * (1 + Math.cos(angle)), y + (height / 2) * (1 + Math.sin(angle))];
  });
}

/**
 * How deep a banner's ends are cut. If nothing is said of it, half as deep as
 * the banner is high and never over a third of its length.
 * @param {Pick<Element, 'width' | 'height' | 'ends'>} element
 */
export function endDepth({width, height, ends}) {
  const length = Math.max(width, height);
  return ends?.depth ? Math.min(ends.depth, length / 2) : Math.min(width / 2, height / 2, length / 3);
}

/**
 * The corners of a banner before turning, clockwise from its top-left.
 * @param {Element} element
 * @returns {Point[]}
 */
export function bannerOutline(element) {
  const {x, y, width, height, ends} = element;
  const upright = height > width;
  const [length, across] = upright ? [height, width] : [width, height];
  const depth = endDepth(element);
  /** @type {Record<End, Point[]>} */
  const left = {
    straight: [[0, across], [0, 0]],
    fishtail: [[0, across], [depth, across / 2], [0, 0]],
    point: [[depth, across], [0, across / 2], [depth, 0]],
    angled: [[0, across], [depth, 0]],
  };
  /** @type {Record<End, Point[]>} */
  const right = {
    straight: [[length, 0], [length, across]],
    fishtail: [[length, 0], [length - depth, across / 2], [length, across]],
    point: [[length - depth, 0], [length, across / 2], [length - depth, across]],
    angled: [[length, 0], [length - depth, across]],
  };
  return [...left[ends?.left ?? 'straight'], ...right[ends?.right ?? 'fishtail']].map(
    ([along, off]) => (upright ? [x + off, y + along] : [x + along, y + off]),
  );
}

/**
 * @param {Point} point
 * @param {Point} middle
 * @param {number} angle radians, clockwise on the screen
 * @returns {Point}
 */
function turned([x, y], [mx, my], angle) {
  if (angle === 0) return [x, y];
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  return [mx + (x - mx) * cos - (y - my) * sin, my + (x - mx) * sin + (y - my) * cos];
}

/**
 * Where an element lies on the photo, in photo pixels: the outline that was
 * found, or, once its numbers say otherwise, where the numbers put it. Empty
 * when the layout was not read from a photo.
 * @param {Layout} record
 * @param {Element} element
 * @returns {Point[]}
 */
export function outlineOnPhoto(record, element) {
  const corners = record.capture?.card_corners_px;
  const found = element.outline_px ?? [];
  if (corners?.length !== 4) return found;
  const projected = outlineOnCard(element).map(projection(record.card.width, record.card.height, corners));
  if (found.length < 3) return projected;
  const lengths = corners.map((corner, i) => distance(corner, corners[(i + 1) % 4]));
  const reach = AGREES * Math.min(...lengths);
  const [a, b] = [bounds(found), bounds(projected)];
  return a.every((side, i) => Math.abs(side - b[i]) <= reach) ? found : projected;
}

/**
 * Left, top, right and bottom of some points.
 * @param {Point[]} points
 */
export function bounds(points) {
  const [xs, ys] = [points.map(([x]) => x), points.map(([, y]) => y)];
  return [Math.min(...xs), Math.min(...ys), Math.max(...xs), Math.max(...ys)];
}

/**
 * @param {Point} a
 * @param {Point} b
 */
const distance = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
