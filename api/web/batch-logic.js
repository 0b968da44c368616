// Batches of cards: changes of a batch's record, and a plan of its sheets in
// words. Pure; no DOM, no network.

import {showLength} from './lengths.js';
import {counted, titleOf} from './logic.js';
import {sheetSize} from './drawer-logic.js';

/** @typedef {import('./lengths.js').Unit} Unit */
/** @typedef {import('./drawer-logic.js').SavedPaper} SavedPaper */
/** @typedef {{layout: number, supply: string, paper: number, face: number}} Choice */
/** @typedef {{blade: number, least_strip: number, stages: string, bases: boolean, middles: boolean}} Cutting */
/**
 * @typedef {object} Batch A batch's record, as the service's schema has it.
 * @property {number} schema
 * @property {string} title
 * @property {Unit} unit
 * @property {{layout: number, cards: number}[]} layouts
 * @property {Choice[]} papers chosen by hand
 * @property {Cutting} cutting
 * @property {string} notes
 */
/** @typedef {{id: number, version: number, etag: string, savedAt: string, cutAt: string | null, record: Batch}} SavedBatch */
/** @typedef {{layout: number, supply: string, paper: number | null, name: string, face: number, by_hand: boolean, why: string, cards_per_sheet: number | null}} PlannedPaper */
/** @typedef {{letter: string, layout: number, supply: string, width: number, height: number, unit: Unit, count: number, words: string[], finish: string, score: string}} PlannedPiece */
/** @typedef {{x: number, y: number, width: number, height: number}} Rectangle */
/** @typedef {Rectangle & {letter: string, turned: boolean, face: number}} PlacedPiece */
/** @typedef {{number: number, part: Rectangle, upright: boolean, at: number, setting: number, setting_words: string}} SheetCut */
/** @typedef {{number: number, paper: number | null, name: string, count: number, unit: Unit, width: number, height: number, pieces: PlacedPiece[], cuts: SheetCut[], offcuts: Rectangle[]}} PlannedSheet */
/** @typedef {{cards: number, sheets: number, least_sheets: number | null, pieces: number, missing: number, cuts: number, settings: number, used: number, proven: boolean}} Totals */
/**
 * @typedef {object} Plan How a batch is cut, as the service tells it.
 * @property {{layout: number, version: number, title: string, cards: number}[]} layouts
 * @property {PlannedPaper[]} papers
 * @property {PlannedPiece[]} pieces
 * @property {PlannedSheet[]} sheets
 * @property {{letter: string, count: number}[]} missing
 * @property {string[]} advice
 * @property {Totals} totals
 */
/** @typedef {{papers: SavedPaper[], taken: {paper: number, sheets: number}[]}} CutDone papers that sheets were taken of, then offcuts */

/** Makers make four of a kind. */
export const USUAL_CARDS = 4;
/** Most cards of one layout, the same as the service's. */
export const MOST_CARDS = 1000;
/** Longest title, in characters. */
const LONGEST_TITLE = 200;
/** @type {[string, string][]} */
export const STAGES = [
  ['free', 'As often as it takes'],
  ['3', 'Twice: bands, strips, pieces'],
  ['2', 'Once: strips, then pieces'],
];

/** @param {any} body @returns {SavedBatch} */
export function savedBatch(body) {
  const {id, version, etag, saved_at: savedAt, cut_at: cutAt, ...record} = body;
  return {id, version, etag, savedAt, cutAt: cutAt ?? null, record};
}

/**
 * What is sent to begin a batch with these layouts.
 * @param {{id: string | number, title?: string, unit?: Unit, cards?: number}[]} layouts
 */
export function newBatch(layouts) {
  const first = titleOf(layouts[0] ?? {});
  const title = layouts.length > 1 ? `${first} and ${layouts.length - 1} more` : first;
  return {
    schema: 1, title: title.slice(0, LONGEST_TITLE), unit: layouts[0]?.unit ?? 'in',
    layouts: layouts.map(({id, cards}) => ({layout: Number(id), cards: cards ?? USUAL_CARDS})),
  };
}

/** @param {{title: string}} batch */
export const titleOfBatch = ({title}) => title.trim() || 'Untitled batch';

/** @param {Batch} batch @param {number} layout @param {number} cards @returns {Batch} */
export function withCards(batch, layout, cards) {
  return {...batch, layouts: batch.layouts.map((one) => (one.layout === layout ? {layout, cards} : one))};
}

/** A batch has one layout at least. @param {Batch} batch @param {number} layout @returns {Batch} */
export function withoutLayout(batch, layout) {
  if (batch.layouts.length < 2) return batch;
  return {
    ...batch,
    layouts: batch.layouts.filter((one) => one.layout !== layout),
    papers: batch.papers.filter((one) => one.layout !== layout),
  };
}

/**
 * A paper chosen by hand for a part of a layout; without one it is proposed again.
 * @param {Batch} batch
 * @param {number} layout
 * @param {string} supply
 * @param {string} value as `paperChoices` has it, or empty
 * @returns {Batch}
 */
export function withPaper(batch, layout, supply, value) {
  const others = batch.papers.filter((one) => one.layout !== layout || one.supply !== supply);
  const [paper, face] = value.split(':').map(Number);
  return {...batch, papers: value === '' ? others : [...others, {layout, supply, paper, face}]};
}

/** @param {Batch} batch @param {Partial<Cutting>} change @returns {Batch} */
export const withCutting = (batch, change) => ({...batch, cutting: {...batch.cutting, ...change}});

/**
 * The papers and faces that can be chosen, as values and words.
 * @param {SavedPaper[]} papers
 * @returns {[string, string][]}
 */
export function paperChoices(papers) {
  return papers.flatMap(({id, paper}) => paper.faces.map((face, at) => {
    const side = paper.faces.length > 1 ? `, ${at === 0 ? 'front' : 'back'}: ${face.name || face.colour || face.pattern}` : '';
    return /** @type {[string, string]} */ ([`${id}:${at}`, `${paper.name}${side} (${sheetSize(paper)}, ${paper.count} left)`]);
  }));
}

/** Where a part's paper comes from, in words. @param {string} supply */
export function supplyWords(supply) {
  if (supply === 'base') return 'Card bases';
  if (supply === 'plain') return 'Parts without a letter';
  const mat = /^mat(?:-(\d+))?$/.exec(supply);
  if (mat) return mat[1] ? `Mats, layer ${mat[1]}` : 'Mats';
  return `Paper ${supply}`;
}

/** The sums of a plan as a sentence or two. @param {Totals} totals */
export function totalsWords({cards, sheets, least_sheets: least, pieces, missing, cuts, settings, used, proven}) {
  const best = proven ? ', and less will not do' : least !== null && least < sheets ? `, where ${least} would be the least thinkable` : '';
  const found = missing > 0 ? `${counted(pieces, 'piece')} of ${pieces + missing} for ${counted(cards, 'card')}` : counted(cards, 'card');
  return `${found} from ${counted(sheets, 'sheet')}${best}. ${counted(cuts, 'cut')} with ${counted(settings, 'setting')} of the trimmer; `
    + `${Math.round(used * 100)}% of the sheets becomes ${missing > 0 ? 'pieces' : 'cards'}.`;
}

/** `4 x 5 1/4`. @param {PlannedPiece} piece */
export const pieceSize = (piece) => sheetSize(piece);

/** Pieces without a place, in sentences. @param {Plan} plan */
export function missingWords(plan) {
  return plan.missing.map(({letter, count}) => {
    const piece = plan.pieces.find((one) => one.letter === letter);
    const size = piece ? `, ${pieceSize(piece)}, for ${piece.words.join(' and ')}` : '';
    return `${count} of piece ${letter}${size}: no paper left for ${count === 1 ? 'it' : 'them'}.`;
  });
}

/** `Sheet 2: Ferns, 12 x 12. Cut 3 sheets like this.` @param {PlannedSheet} sheet */
export const sheetWords = ({number, name, count}) => `Sheet ${number}: ${name}${count > 1 ? `. Cut ${count} sheets like this` : ''}`;

/** What a sheet's drawing shows, for who cannot see it. @param {PlannedSheet} sheet */
export function drawingWords(sheet) {
  /** @type {Map<string, number>} */
  const counts = new Map();
  for (const {letter} of sheet.pieces) counts.set(letter, (counts.get(letter) ?? 0) + 1);
  const pieces = [...counts].map(([letter, count]) => `${count} of ${letter}`).join(', ');
  const offcuts = sheet.offcuts.map((one) => sheetSize({...one, unit: sheet.unit}));
  return `Drawing of a sheet ${sheetSize(sheet)}: pieces ${pieces}; ${offcuts.length > 0 ? `left over ${offcuts.join(', ')}` : 'nothing left over'}. The table tells the cuts.`;
}

/**
 * One cut as cells of a table: its number, what the trimmer is set to, how the blade runs, and the part in hand.
 * @param {SheetCut} cut
 * @param {Unit} unit
 */
export function cutCells(cut, unit) {
  return [String(cut.number), cut.setting_words, cut.upright ? 'top to bottom' : 'left to right', sheetSize({...cut.part, unit})];
}

/** What left the drawer and what came back. @param {CutDone} done */
export function cutDoneWords({papers, taken}) {
  const left = taken.map(({paper, sheets}) => `${counted(sheets, 'sheet')} of ${papers.find(({id}) => id === paper)?.paper.name ?? 'a paper'}`);
  const back = papers.filter(({id}) => !taken.some(({paper}) => paper === id));
  const offcuts = back.map(({paper}) => `${paper.count > 1 ? `${paper.count} x ` : ''}${paper.name} ${sheetSize(paper)}`);
  return `Taken out of the drawer: ${left.join(', ') || 'nothing'}. ${offcuts.length > 0 ? `Put back as offcuts: ${offcuts.join(', ')}.` : 'No offcut was worth keeping.'}`;
}

/**
 * The events in what has come of a stream so far (WHATWG HTML, server-sent events), and what is left of it.
 * @param {string} text
 * @returns {{events: {name: string, data: any}[], rest: string}}
 */
export function eventsIn(text) {
  const blocks = text.replaceAll('\r\n', '\n').split('\n\n');
  const rest = blocks.pop() ?? '';
  const events = blocks.flatMap((block) => {
    const lines = block.split('\n');
    const data = lines.filter((line) => line.startsWith('data:')).map((line) => line.slice(5).replace(/^ /, ''));
    const name = lines.find((line) => line.startsWith('event:'))?.slice(6).trim() ?? 'message';
    return data.length > 0 ? [{name, data: JSON.parse(data.join('\n'))}] : [];
  });
  return {events, rest};
}

/** `A blade takes 1/16 away`, for the summary of the options. @param {Batch} batch */
export function cuttingWords({cutting, unit}) {
  const {blade, least_strip: strip, stages, bases, middles} = cutting;
  return [
    blade > 0 ? `blade ${showLength(blade, unit)}` : '', strip > 0 ? `strips from ${showLength(strip, unit)}` : '',
    stages === 'free' ? '' : `direction changes ${stages === '2' ? 'once' : 'twice'}`,
    bases ? 'bases are cut' : 'bases are bought', middles ? 'hidden middles are used' : '',
  ].filter(Boolean).join(', ');
}
