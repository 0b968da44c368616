// The papers of the drawer: records and the form they are written in, words
// for them, and a small drawing of a face. Pure; no DOM, no network.

import {parseLength, showLength} from './lengths.js';
import {counted, parseTags} from './logic.js';

/** @typedef {import('./lengths.js').Unit} Unit */
/** @typedef {import('./drawing.js').Node} Node */
/** @typedef {'plain' | 'quiet' | 'busy'} Pattern */
/** @typedef {'left' | 'right' | 'top' | 'bottom'} Edge */
/** @typedef {{name: string, colour: string, pattern: Pattern, directional: boolean, unusable?: Record<Edge, number>}} Face */
/**
 * @typedef {object} Paper A paper's record, as the service's schema has it.
 * @property {number} schema
 * @property {string} name
 * @property {string} kind sheet, pad, strip or offcut
 * @property {Unit} unit
 * @property {number} width
 * @property {number} height
 * @property {number} count sheets that are left
 * @property {string} weight paper or cardstock
 * @property {Face[]} faces one, or two where both can be shown
 * @property {string} notes
 * @property {string[]} tags
 * @property {number} [cut_from]
 */
/** @typedef {{id: number, version: number, etag: string, paper: Paper}} SavedPaper */
/** @typedef {{version: number, saved_at: string, why: string, deleted: boolean, name: string | null, count: number | null}} PaperVersion */
/** @typedef {{id: number, title: string, cards: number, parts: string[]}} CutFrom a layout that a paper has room for */
/** @typedef {{text: string, kind: string, weight: string, holds: string, inStock: boolean}} PaperQuery */
/** @typedef {Record<Edge, string> & {name: string, colour: string, pattern: string, directional: boolean}} FaceForm */
/**
 * @typedef {object} PaperForm What stands in the fields, as it was typed.
 * @property {string} name
 * @property {string} kind
 * @property {Unit} unit
 * @property {string} width
 * @property {string} height
 * @property {string} count
 * @property {string} weight
 * @property {FaceForm[]} faces always two
 * @property {boolean} both whether the back can be shown too
 * @property {string} notes
 * @property {string} tags
 */
/** @typedef {{width: string, height: string, count: string}} OffcutForm */
/** @typedef {Record<string, string>} Faults what is wrong, by the id of the field */

/** What the service adds to a record. */
const ADDED = ['id', 'version', 'etag', 'saved_at'];
/** Most sheets of one paper, the same as the service's. */
const MOST_COUNT = 10_000;
/** @type {Edge[]} */
export const EDGES = ['left', 'right', 'top', 'bottom'];
/** @type {[string, string][]} */
export const KINDS = [['sheet', 'Loose sheets'], ['pad', 'A pad'], ['strip', 'Strips'], ['offcut', 'Offcuts']];
/** @type {[string, string][]} */
export const WEIGHTS = [['paper', 'Paper'], ['cardstock', 'Cardstock']];
/** @type {[string, string][]} */
export const PATTERNS = [['plain', 'Plain: one colour'], ['quiet', 'Quiet: small or tone on tone'], ['busy', 'Busy: large or many colours']];
/** Sizes that papers are sold in; A4 by ISO 216. @type {[string, Unit, string, string, string][]} name, unit, sides, kind */
export const USUAL_SIZES = [
  ['12 x 12 sheets', 'in', '12', '12', 'sheet'],
  ['6 x 6 pad', 'in', '6', '6', 'pad'],
  ['Letter, 8 1/2 x 11', 'in', '8 1/2', '11', 'sheet'],
  ['A4, 210 x 297 mm', 'mm', '210 mm', '297 mm', 'sheet'],
];

/** @type {PaperQuery} */
export const ALL_PAPERS = {text: '', kind: '', weight: '', holds: '', inStock: false};

/** @param {any} body @returns {SavedPaper} */
export function savedPaper(body) {
  const paper = Object.fromEntries(Object.entries(body).filter(([key]) => !ADDED.includes(key)));
  return {id: body.id, version: body.version, etag: body.etag, paper: /** @type {any} */ (paper)};
}

/** @param {PaperQuery} query */
export function paperParams({text, kind, weight, holds, inStock}) {
  const asked = {text: text.trim(), kind, weight, holds: holds.trim(), in_stock: inStock ? 'true' : ''};
  return new URLSearchParams(Object.entries(asked).filter(([, value]) => value !== ''));
}

/** `12 x 12 1/4` or `210 x 297 mm`. @param {{width: number, height: number, unit: Unit}} sheet */
export function sheetSize({width, height, unit}) {
  return `${showLength(width, unit).replace(' mm', '')} x ${showLength(height, unit)}`;
}

/** `6 sheets`, `1 strip`, `none left`. @param {Paper} paper */
export function countWords({count, kind}) {
  return count === 0 ? 'none left' : counted(count, kind === 'pad' ? 'sheet' : kind);
}

/**
 * A face in words: what it is called, its colour, its pattern, whether it has an up, what cannot be used.
 * @param {Face} face
 * @param {Unit} unit
 */
export function faceWords(face, unit) {
  const {name, colour, pattern, directional, unusable} = face;
  const told = name.toLowerCase().includes(colour.toLowerCase());
  const edges = EDGES.filter((edge) => unusable?.[edge]).map((edge) => `${showLength(unusable?.[edge] ?? 0, unit)} at the ${edge}`);
  return [
    name, told ? '' : colour, pattern, directional ? 'has an up' : '',
    edges.length > 0 ? `not usable: ${edges.join(' and ')}` : '',
  ].filter(Boolean).join(', ');
}

/**
 * What a colour in words may be called by a browser, the closest first.
 * @param {string} words
 */
export function colourNames(words) {
  const plain = (words.toLowerCase().match(/[a-z]+/g) ?? []).map((word) => word.replace('cream', 'cornsilk').replace('grey', 'gray'));
  const pairs = plain.slice(1).map((word, at) => plain[at] + word);
  return [plain.join(''), ...pairs.reverse(), ...plain.reverse()].filter(Boolean);
}

/**
 * A face as a small drawing: its colour, its pattern, and an arrow where it has an up.
 * @param {Face} face
 * @param {string} fill a colour
 * @returns {Node}
 */
export function swatchOf({pattern, directional}, fill) {
  /** @type {Node[]} */
  const print = [];
  const ink = {class: 'swatch-ink'};
  if (pattern === 'quiet') {
    for (const x of [10, 22, 34]) for (const y of [10, 22, 34]) print.push({tag: 'circle', attributes: {cx: x, cy: y, r: 1.5, ...ink}});
  }
  if (pattern === 'busy') {
    print.push({tag: 'circle', attributes: {cx: 12, cy: 13, r: 7, ...ink}}, {tag: 'path', attributes: {d: 'M24 6h14v14zM6 26l14 12H6z', ...ink}},
      {tag: 'circle', attributes: {cx: 32, cy: 32, r: 6, ...ink}});
  }
  if (directional) {
    for (const part of ['swatch-halo', 'swatch-up']) print.push({tag: 'path', attributes: {d: 'M22 37V9m-7 8 7-8 7 8', class: part}});
  }
  return {
    tag: 'svg',
    attributes: {viewBox: '0 0 44 44', width: 44, height: 44, 'aria-hidden': 'true', class: 'swatch'},
    children: [{tag: 'rect', attributes: {x: 0.5, y: 0.5, width: 43, height: 43, fill, class: 'swatch-edge'}}, ...print],
  };
}

/**
 * A record in the fields of the form; a new paper without one.
 * @param {Paper | null} paper
 * @returns {PaperForm}
 */
export function formOf(paper) {
  const unit = paper?.unit ?? 'in';
  const face = (/** @type {Face | undefined} */ one) => /** @type {FaceForm} */ ({
    name: one?.name ?? '', colour: one?.colour ?? '', pattern: one?.pattern ?? 'plain', directional: one?.directional ?? false,
    ...Object.fromEntries(EDGES.map((edge) => [edge, one?.unusable?.[edge] ? showLength(one.unusable[edge], unit) : ''])),
  });
  return {
    name: paper?.name ?? '', kind: paper?.kind ?? 'sheet', unit,
    width: paper ? showLength(paper.width, unit) : '12', height: paper ? showLength(paper.height, unit) : '12',
    count: String(paper?.count ?? 1), weight: paper?.weight ?? 'paper',
    faces: [face(paper?.faces[0]), face(paper?.faces[1])], both: (paper?.faces.length ?? 1) > 1,
    notes: paper?.notes ?? '', tags: paper?.tags.join(', ') ?? '',
  };
}

/**
 * The record that the fields make, or what is wrong in which field.
 * @param {PaperForm} form
 * @param {Paper | null} before
 * @returns {{ok: true, paper: Paper} | {ok: false, faults: Faults}}
 */
export function readPaperForm(form, before) {
  /** @type {Faults} */
  const faults = {};
  const {unit} = form;
  const side = (/** @type {string} */ id, /** @type {string} */ text) => lengthOf(text, unit, faults, id);
  if (form.name.trim() === '') faults['paper-name'] = 'Give the paper a name to find it by.';
  const [width, height] = [side('paper-width', form.width), side('paper-height', form.height)];
  const count = wholeNumber(form.count, 0, MOST_COUNT);
  if (count === null) faults['paper-count'] = 'Write how many sheets there are, from 0 to 10,000.';
  const faces = form.faces.slice(0, form.both ? 2 : 1).map((one, index) => {
    const edges = EDGES.map((edge) => {
      const text = one[edge].trim();
      return /** @type {[Edge, number]} */ ([edge, text === '' || text === '0' ? 0 : lengthOf(text, unit, faults, `face-${index}-${edge}`)]);
    });
    const unusable = /** @type {Record<Edge, number>} */ (Object.fromEntries(edges));
    if (unusable.left + unusable.right >= width && width > 0 && unusable.left > 0) {
      faults[`face-${index}-left`] ??= 'These edges leave nothing of the paper.';
    }
    if (unusable.top + unusable.bottom >= height && height > 0 && unusable.top > 0) {
      faults[`face-${index}-top`] ??= 'These edges leave nothing of the paper.';
    }
    /** @type {Face} */
    const face = {name: one.name.trim(), colour: one.colour.trim(), pattern: /** @type {Pattern} */ (one.pattern), directional: one.directional};
    return edges.some(([, length]) => length > 0) ? {...face, unusable} : face;
  });
  if (Object.keys(faults).length > 0 || count === null) return {ok: false, faults};
  return {
    ok: true,
    paper: {
      ...before, schema: 1, name: form.name.trim(), kind: form.kind, unit, width, height, count, weight: form.weight, faces,
      notes: form.notes, tags: parseTags(form.tags),
    },
  };
}

/**
 * Sheets that were cut by hand, as the service takes them; lines without any size are left out.
 * @param {string} sheets
 * @param {OffcutForm[]} offcuts
 * @param {Paper} paper
 * @returns {{ok: true, cut: {sheets: number, offcuts: {width: number, height: number, count: number}[]}} | {ok: false, faults: Faults}}
 */
export function readCut(sheets, offcuts, paper) {
  /** @type {Faults} */
  const faults = {};
  const taken = wholeNumber(sheets, 1, paper.count);
  if (taken === null) {
    faults['cut-sheets'] = paper.count === 0 ? 'None is left in the drawer.' : `Write how many sheets were cut, from 1 to ${paper.count}.`;
  }
  const back = offcuts.flatMap((one, index) => {
    if (one.width.trim() === '' && one.height.trim() === '') return [];
    const width = lengthOf(one.width, paper.unit, faults, `offcut-${index}-width`);
    const height = lengthOf(one.height, paper.unit, faults, `offcut-${index}-height`);
    const count = wholeNumber(one.count, 1, MOST_COUNT);
    if (count === null) faults[`offcut-${index}-count`] = 'Write how many of this size go back.';
    return [{width, height, count: count ?? 0}];
  });
  if (taken === null || Object.keys(faults).length > 0) return {ok: false, faults};
  return {ok: true, cut: {sheets: taken, offcuts: back}};
}

/**
 * A whole number as it was typed; null for anything else.
 * @param {string} text
 * @param {number} least
 * @param {number} most
 */
export function wholeNumber(text, least, most) {
  const number = /^\d{1,6}$/.test(text.trim()) ? Number(text) : NaN;
  return number >= least && number <= most ? number : null;
}

/**
 * A length more than nothing, on sixteenths or half millimetres.
 * @param {string} text
 * @param {Unit} unit
 * @param {Faults} faults
 * @param {string} id
 */
function lengthOf(text, unit, faults, id) {
  const parsed = parseLength(text, unit, 'position');
  if (parsed.ok && parsed.value > 0) return parsed.value;
  faults[id] = parsed.ok ? 'Write a length that is more than nothing, such as 4 1/4.' : parsed.message;
  return 0;
}
