// What is told of the door to the network: the code, its time, the paired
// devices. Pure; no DOM, no clock.

/** @typedef {{id: number, name: string, paired_at: string, seen_at: string}} Device */
/** @typedef {{side: number, path: string}} Qr */
/**
 * @typedef {object} Standing
 * @property {boolean} network whether other machines can reach the service at all
 * @property {{digits: string, seconds_left: number, tries_left: number} | null} code
 * @property {'not-made' | 'used' | 'expired' | 'guessed' | null} ended
 * @property {{url: string, qr: Qr | null}[]} addresses
 * @property {Device[]} devices the latest first
 */

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** Time left, as a clock shows it. @param {number} seconds */
export function clockWords(seconds) {
  const whole = Math.max(0, Math.ceil(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, '0')}`;
}

/** Why there is no code. @param {Standing['ended']} ended */
export function endedWords(ended) {
  switch (ended) {
    case 'used': return 'The code was used: a device is paired. Each further one needs a code of its own.';
    case 'expired': return 'The code was valid for ten minutes.';
    case 'guessed': return 'Five wrong codes were entered, so the code is void. If that was not you, somebody on your network is trying.';
    default: return 'No code was made yet.';
  }
}

/**
 * When a device was here last, for a person.
 * @param {string} iso
 * @param {Date} now
 */
export function seenWords(iso, now) {
  const then = new Date(iso);
  const minutes = Math.floor((now.getTime() - then.getTime()) / 60_000);
  // The service notes it once a minute.
  if (minutes < 2) return 'just now';
  if (minutes < 60) return `${minutes} minutes ago`;
  const hours = Math.floor(minutes / 60);
  if (hours < 24) return hours === 1 ? 'an hour ago' : `${hours} hours ago`;
  return `on ${dayWords(then)}`;
}

/** @param {Date} day */
export const dayWords = (day) => `${day.getDate()} ${MONTHS[day.getMonth()]} ${day.getFullYear()}`;

/** A QR code as a tree of SVG nodes. @param {Qr} qr @returns {import('./drawing.js').Node} */
export function qrDrawing({side, path}) {
  return {
    tag: 'svg',
    attributes: {viewBox: `0 0 ${side} ${side}`, class: 'qr', role: 'img', 'aria-label': 'QR code of the address and the code beside it', 'shape-rendering': 'crispEdges'},
    children: [
      {tag: 'rect', attributes: {width: side, height: side, fill: '#fff'}},
      {tag: 'path', attributes: {d: path, fill: '#000'}},
    ],
  };
}

/**
 * Devices that were paired since.
 * @param {Device[] | undefined} before
 * @param {Device[]} now
 */
export const newDevices = (before, now) => (before ? now.filter(({id}) => !before.some((known) => known.id === id)) : []);
