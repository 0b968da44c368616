// From two clicks on a photo to the sides of a drawn rectangle: each side goes
// to the darkest line near where it was clicked, by the mean darkness along it
// (projection profiles). Pure; no DOM: it is given grey levels.

/** @typedef {{width: number, height: number, grey: Uint8ClampedArray | Uint8Array}} Picture grey levels, row by row */
/** @typedef {[number, number, number, number]} Box left, top, right, bottom in pixels of the picture */

/** A line must be this much darker than its surroundings to pull, in grey levels of 255: a faint pencil is about 20. */
const LEAST_CONTRAST = 10;
/** The share of a side, at each end, that is left out: corners are where a click is worst. */
const END_SHARE = 0.1;
/** Most places along a side that are looked at: a wide photo is no slower. */
const MOST_PLACES = 200;
/** A line drawn by hand or seen at an angle wanders by about this much along a side, in pixels. */
const WANDER_PX = 1;

/**
 * @param {Picture} picture
 * @param {Box} clicked
 * @param {number} reach how far a side may move, in pixels
 * @returns {Box}
 */
export function sidesOnInk(picture, clicked, reach) {
  const [left, top, right, bottom] = [
    Math.min(clicked[0], clicked[2]), Math.min(clicked[1], clicked[3]),
    Math.max(clicked[0], clicked[2]), Math.max(clicked[1], clicked[3]),
  ];
  // Two sides of a narrow strip never trade places.
  const across = Math.min(reach, (right - left) / 3);
  const down = Math.min(reach, (bottom - top) / 3);
  return [
    darkest(picture, left, top, bottom, across, true),
    darkest(picture, top, left, right, down, false),
    darkest(picture, right, top, bottom, across, true),
    darkest(picture, bottom, left, right, down, false),
  ];
}

/**
 * The place near `at` where a line from `from` to `to` is darkest.
 * @param {Picture} picture
 * @param {number} at
 * @param {number} from
 * @param {number} to
 * @param {number} reach
 * @param {boolean} upright
 */
function darkest({width, height, grey}, at, from, to, reach, upright) {
  const room = (to - from) * END_SHARE;
  const places = Math.max(2, Math.min(MOST_PLACES, Math.round(to - from)));
  const [limit, along] = upright ? [width, height] : [height, width];
  /** @type {number[]} */
  const profile = [];
  const first = Math.max(WANDER_PX, Math.round(at - reach));
  const last = Math.min(limit - 1 - WANDER_PX, Math.round(at + reach));
  for (let place = first; place <= last; place += 1) {
    let sum = 0;
    for (let k = 0; k < places; k += 1) {
      const step = Math.round(from + room + ((to - from - 2 * room) * k) / (places - 1));
      const other = Math.min(along - 1, Math.max(0, step));
      let dark = 255;
      for (let off = -WANDER_PX; off <= WANDER_PX; off += 1) {
        const value = upright ? grey[other * width + place + off] : grey[(place + off) * width + other];
        dark = Math.min(dark, value);
      }
      sum += 255 - dark;
    }
    profile.push(sum / places);
  }
  if (profile.length === 0) return at;
  const usual = [...profile].sort((a, b) => a - b)[Math.floor(profile.length / 2)];
  const best = Math.max(...profile);
  if (best - usual < LEAST_CONTRAST) return at;
  // The middle of the dark part: the wander made a line three pixels wide.
  const dark = profile.map((value, i) => ({value, place: first + i})).filter(({value}) => value > (best + usual) / 2);
  const nearest = dark.reduce((a, b) => (Math.abs(b.place - at) < Math.abs(a.place - at) ? b : a));
  const run = dark.filter(({place}) => Math.abs(place - nearest.place) <= 2 * WANDER_PX + 2);
  return run.reduce((sum, {place}) => sum + place, 0) / run.length;
}
