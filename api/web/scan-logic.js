// The scanner's shots: what each is called, where it stands, what is told of
// it. Pure; no DOM, no clock.

/**
 * @typedef {object} Shot
 * @property {string} id made here; never used again
 * @property {number} at when it was taken, in ms
 * @property {string} name what its file is called: the service tells of it under this name
 * @property {string} card the card it is for
 * @property {'waiting' | 'sent' | 'read' | 'refused'} state
 * @property {boolean} thrown whether it was thrown away while it was on its way
 * @property {number | null} import where it was sent to
 * @property {Result | null} result what was read
 * @property {string} fault why the service does not take it
 * @property {ArrayBuffer | null} thumb a small JPEG of it
 */
/** @typedef {{outcome: string, reason: string, layouts: number[]}} Result */
/** @typedef {{name: string, pages: {outcome: string, reason: string, layouts: {id: number}[]}[]}} ImportedFile */
/**
 * @typedef {object} Series An import that is open for this phone's shots.
 * @property {number | null} import
 * @property {string} card
 * @property {boolean} beginning whether one was asked for, and the answer is not known
 * @property {boolean} finishing whether no more shots will come
 */
/** @typedef {{id: number, state: string, open: boolean, card: string | null, counts: {files: number}}} Import */

/** @type {Series} */
export const NEW_SERIES = {import: null, card: '', beginning: false, finishing: false};

/** The first and the longest wait before a shot is sent again, in ms. */
const [FIRST_WAIT_MS, LONGEST_WAIT_MS] = [1_000, 30_000];
const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
/** @type {Record<string, string>} */
const ENDINGS = {'image/jpeg': 'jpg', 'image/png': 'png', 'image/webp': 'webp', 'image/heic': 'heic', 'image/heif': 'heif', 'image/tiff': 'tiff'};

/** How long to wait after so many tries that failed. @param {number} tries */
export const waitMs = (tries) => Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** Math.max(0, tries - 1));

/**
 * A name for a shot's file, which a layout is called by until somebody names
 * it. No other shot of the series has it.
 * @param {Date} at
 * @param {string} type the picture's media type
 * @param {Shot[]} others
 */
export function fileName(at, type, others) {
  const two = (/** @type {number} */ number) => String(number).padStart(2, '0');
  const time = [at.getHours(), at.getMinutes(), at.getSeconds()].map(two).join('.');
  const stem = `Shot of ${at.getDate()} ${MONTHS[at.getMonth()]} ${at.getFullYear()}, ${time}`;
  const ending = ENDINGS[type] ?? 'jpg';
  for (let count = 1; ; count += 1) {
    const name = count === 1 ? `${stem}.${ending}` : `${stem} (${count}).${ending}`;
    if (!others.some((other) => other.name === name)) return name;
  }
}

/** A new shot, to be sent. @param {string} id @param {Date} at @param {string} type @param {string} card @param {Shot[]} others @returns {Shot} */
export function newShot(id, at, type, card, others) {
  return {
    id, at: at.getTime(), name: fileName(at, type, others), card,
    state: 'waiting', thrown: false, import: null, result: null, fault: '', thumb: null,
  };
}

/**
 * Shots with what the service told of their files. Of a shot that was sent
 * twice, for its first answer was lost, the first outcome counts: the second
 * is that the same file is there already.
 * @param {Shot[]} shots
 * @param {number} from the import
 * @param {ImportedFile[]} files
 * @returns {Shot[]}
 */
export function withResults(shots, from, files) {
  return shots.map((shot) => {
    if (shot.state !== 'sent' || shot.import !== from) return shot;
    const file = files.find(({name}) => name === shot.name);
    return file ? {...shot, state: 'read', result: resultOf(file)} : shot;
  });
}

/** @param {ImportedFile} file @returns {Result} */
function resultOf({pages}) {
  return {
    outcome: pages[0]?.outcome ?? 'unreadable',
    reason: pages[0]?.reason ?? '',
    layouts: pages.flatMap(({layouts}) => layouts.map(({id}) => id)),
  };
}

/** Shots that a person still has to do with, the latest first. @param {Shot[]} shots */
export const shown = (shots) => shots.filter(({thrown}) => !thrown).sort((a, b) => b.at - a.at || (a.name < b.name ? 1 : -1));

/** Shots that are not on the computer's disk yet. @param {Shot[]} shots */
export const unsent = (shots) => shots.filter(({state, thrown}) => state === 'waiting' && !thrown);

/**
 * The import that was begun without its answer being heard: it is open and
 * empty. Should it be another phone's, both can use it.
 * @param {Import[]} imports
 * @param {string} card
 */
export const unheard = (imports, card) => imports.find((one) =>
  one.state === 'running' && one.open && one.counts.files === 0 && one.card === card)?.id ?? null;

/** Imports whose outcome somebody waits for. @param {Shot[]} shots */
export const asked = (shots) => [...new Set(shots.flatMap((shot) => (shot.state === 'sent' && shot.import !== null ? [shot.import] : [])))];

/** What stands in the corner. @param {Shot[]} shots */
export function countWords(shots) {
  const waiting = unsent(shots).length;
  if (waiting > 0) return `${waiting} to be sent`;
  const all = shown(shots).length;
  return all > 0 ? `${all === 1 ? '1 shot' : `${all} shots`}, all sent` : '';
}

/**
 * Where a shot stands, in a sentence.
 * @param {Shot} shot
 * @param {boolean} away whether the service does not answer
 */
export function shotWords({state, result, fault}, away) {
  if (state === 'waiting') return away ? 'Kept on this phone until the computer answers.' : 'Being sent…';
  if (state === 'sent') return 'On the computer. Being read…';
  if (state === 'refused') return fault;
  const {outcome, reason, layouts} = /** @type {Result} */ (result);
  const why = reason === '' ? '' : ` ${sentence(reason)}`;
  switch (outcome) {
    case 'read': return layouts.length === 1 ? 'One layout is in the notebook.' : `${layouts.length} layouts are in the notebook.`;
    case 'doubtful': return `In the notebook, but have a look at it.${why}`;
    case 'already-there': return `The notebook has this picture already.${why}`;
    case 'blank': return 'Nothing is drawn on it.';
    default: return `No layout was found.${why} Take it again, straight from above, with all four sides of the card.`;
  }
}

/** @param {string} text */
const sentence = (text) => `${text[0].toUpperCase()}${text.slice(1)}${/[.?!]$/.test(text) ? '' : '.'}`;
