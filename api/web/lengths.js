// Lengths as makers write them. Pure; no DOM.
// A record holds plain numbers in its own unit. A sixteenth of an inch and
// half a millimetre are exact in binary, so counting in whole steps is exact.

/** @typedef {'in' | 'mm'} Unit */
/** @typedef {'size' | 'position'} Step 1/8 in or 1 mm; 1/16 in or 0.5 mm */
/** @typedef {{ok: true, value: number} | {ok: false, message: string}} Parsed */

/** Steps in one unit. @type {Record<Unit, Record<Step, number>>} */
const STEPS_PER_UNIT = {in: {size: 8, position: 16}, mm: {size: 1, position: 2}};
const MM_PER_IN = 25.4;
/** Longest length, the same as the service's: 1000 inches. */
const LONGEST_IN = 1000;
/** Far below any step and above any rounding of decimal text. */
const EXACT = 1e-6;
/** Anything longer is prose. */
const LONGEST_TEXT = 40;
/** @type {Record<string, number>} */
const GLYPHS = {'½': 1 / 2, '¼': 1 / 4, '¾': 3 / 4, '⅛': 1 / 8, '⅜': 3 / 8, '⅝': 5 / 8, '⅞': 7 / 8};
const SUFFIX = /\s*(inches|inch|in\.|in|''|["″”“]|millimetres|millimeters|mm\.|mm)$/;

/**
 * Reads `4 1/4`, `4-1/4"`, `4¼`, `4.25`, `17/4 in` or `108 mm`. A bare number
 * is in `unit`; a written unit wins and is converted exactly.
 * @param {string} text
 * @param {Unit} unit the record's unit
 * @param {Step} step
 * @returns {Parsed}
 */
export function parseLength(text, unit, step) {
  const written = text.trim();
  const shown = written.length > LONGEST_TEXT ? `${written.slice(0, LONGEST_TEXT)}…` : written;
  if (written === '') return refuse('Write a length here, such as 4 1/4.');
  const unreadable = refuse(`“${shown}” is not a length. Write it like 4 1/4, 4.25 or 108 mm.`);
  if (written.length > LONGEST_TEXT) return unreadable;

  let number = written.toLowerCase();
  const suffix = SUFFIX.exec(number);
  /** @type {Unit} */
  let from = unit;
  if (suffix) {
    number = number.slice(0, suffix.index);
    from = suffix[1].startsWith('m') ? 'mm' : 'in';
  }
  const sign = /^[-−]/.test(number) ? -1 : 1;
  const size = magnitude(number.replace(/^[-−+]\s*/, ''));
  if (size === null) return unreadable;

  const value = convert(sign * size, from, unit);
  if (Math.abs(convert(value, unit, 'in')) > LONGEST_IN) {
    return refuse(`“${shown}” is too long for any sheet of paper.`);
  }
  const per = STEPS_PER_UNIT[unit][step];
  const steps = value * per;
  const nearest = Math.round(steps);
  if (Math.abs(steps - nearest) > EXACT) {
    const [below, above] = [Math.floor(steps) / per, Math.ceil(steps) / per];
    return refuse(
      `“${shown}” is between two ${gridName(unit, step)}: ` +
        `the nearest are ${showLength(below, unit)} and ${showLength(above, unit)}.`,
    );
  }
  if (step === 'size' && nearest <= 0) return refuse('A size is more than nothing. Write it like 4 1/4.');
  return {ok: true, value: nearest / per};
}

/**
 * A length in words: `4 1/4`, `-1/16`, or `108 mm`.
 * @param {number} value
 * @param {Unit} unit
 */
export function showLength(value, unit) {
  if (unit === 'mm') return `${decimal(value)} mm`;
  const sixteenths = Math.round(value * 16);
  if (Math.abs(value * 16 - sixteenths) > EXACT) return decimal(value);
  const sign = sixteenths < 0 ? '-' : '';
  const whole = Math.floor(Math.abs(sixteenths) / 16);
  let part = Math.abs(sixteenths) % 16;
  let of = 16;
  while (part > 0 && part % 2 === 0) {
    part /= 2;
    of /= 2;
  }
  if (part === 0) return `${sign}${whole}`;
  return whole === 0 ? `${sign}${part}/${of}` : `${sign}${whole} ${part}/${of}`;
}

/**
 * One step of the grid.
 * @param {Unit} unit
 * @param {Step} step
 */
export const stepOf = (unit, step) => 1 / STEPS_PER_UNIT[unit][step];

/**
 * @param {number} value
 * @param {Unit} from
 * @param {Unit} to
 */
export function convert(value, from, to) {
  if (from === to) return value;
  return from === 'mm' ? value / MM_PER_IN : value * MM_PER_IN;
}

/**
 * @param {string} message
 * @returns {Parsed}
 */
function refuse(message) {
  return {ok: false, message};
}

/**
 * @param {Unit} unit
 * @param {Step} step
 */
function gridName(unit, step) {
  if (unit === 'mm') return step === 'size' ? 'millimetres' : 'half millimetres';
  return step === 'size' ? 'eighths' : 'sixteenths';
}

/** @param {number} value */
function decimal(value) {
  return String(Number(value.toFixed(4)));
}

/**
 * A number without sign or unit: `4`, `4.25`, `.5`, `1/4`, `4 1/4`, `4-1/4`, `4¼`.
 * @param {string} text
 * @returns {number | null}
 */
function magnitude(text) {
  const glyph = /^(\d{0,9})[\s-]*([½¼¾⅛⅜⅝⅞])$/.exec(text);
  if (glyph) return Number(glyph[1]) + GLYPHS[glyph[2]];
  const fraction = /^(?:(\d{1,9})[\s-]+)?(\d{1,9})\s*[/⁄]\s*(\d{1,9})$/.exec(text);
  if (fraction) {
    const bottom = Number(fraction[3]);
    return bottom > 0 ? Number(fraction[1] ?? 0) + Number(fraction[2]) / bottom : null;
  }
  if (/^(\d{1,9}(\.\d{0,12})?|\.\d{1,12})$/.test(text)) return Number(text);
  return null;
}
