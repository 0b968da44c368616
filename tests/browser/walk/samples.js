// The pictures the walks use, and a layout saved without one.

import {fileURLToPath} from 'node:url';

const FOLDER = fileURLToPath(new URL('../../../sample-images/', import.meta.url));

/** One card on a clean scan. */
export const ONE_CARD = {path: `${FOLDER}flat-scan.jpg`, card: 'A2'};
/** Four cards on a notebook page. */
export const FOUR_CARDS = {path: `${FOLDER}notebook-four.jpg`, card: 'A2'};

/** Another card, drawn in pen and photographed at a tilt. */
export const OTHER_CARD = {path: `${FOLDER}pen-tilted.jpg`, card: 'A2'};

/** A thank-you layout with one of each shape, nothing in doubt. */
export const THANK_YOU = {
  schema: 1,
  title: 'Thank you, for Tomas',
  unit: 'in',
  card: {name: 'A2', width: 4.25, height: 5.5, fold: 'left'},
  elements: [
    {id: 1, shape: 'rectangle', x: 0.125, y: 0.125, width: 4, height: 5.25, role: 'background', slot: 'A'},
    {id: 2, shape: 'rectangle', x: 0.5, y: 1, width: 3, height: 2, role: 'panel', slot: 'C', mats: [0.125]},
    {id: 3, shape: 'banner', x: 0.75, y: 3.5, width: 2.5, height: 0.75, role: 'sentiment', ends: {left: 'straight', right: 'fishtail'}},
    {id: 4, shape: 'circle', x: 1, y: 1.25, width: 1.5, height: 1.5, role: 'focal'},
  ],
  notes: '',
  tags: [],
};

/** A get-well layout with a size in doubt, a faint element and a warning. */
export const DOUBTFUL = {
  schema: 1,
  title: 'Get well, with a strip',
  unit: 'in',
  card: {name: 'A2', width: 4.25, height: 5.5, fold: 'left'},
  elements: [
    {id: 1, shape: 'rectangle', x: 0.125, y: 0.125, width: 4, height: 5.25, role: 'background', confidence: 0.98},
    {
      id: 2, shape: 'rectangle', x: 0.625, y: 2, width: 3, height: 1, role: 'strip', slot: 'B', confidence: 0.9,
      alternatives: [{side: 'width', size: 3.125, probability: 0.4}],
    },
    {id: 3, shape: 'mark', kind: 'heart', x: 2, y: 4, width: 0.25, height: 0.25, role: 'embellishment', confidence: 0.3},
  ],
  notes: 'For Ines, who likes blue.',
  tags: ['get well', 'quick'],
  capture: {
    photo: '',
    card_corners_px: [[10, 10], [435, 10], [435, 560], [10, 560]],
    warnings: ['the strip runs close to the edge: check its width'],
  },
};

/**
 * Saves a layout as another program would.
 * @param {string} address
 * @param {unknown} layout
 * @returns {Promise<{id: number, etag: string}>}
 */
export async function saveLayout(address, layout) {
  const response = await fetch(`${address}/api/layouts`, {
    method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify(layout),
  });
  if (response.status !== 201) throw new Error(await response.text());
  return response.json();
}

/** Papers of the card table: a print with a second face, a pad, cardstock, and a strip that was left. */
export const FERNS = {
  schema: 1, name: 'Ferns', kind: 'sheet', unit: 'in', width: 12, height: 12.25, count: 4, weight: 'paper', notes: '', tags: ['spring'],
  faces: [
    {name: 'Ferns', colour: 'green', pattern: 'busy', directional: true, unusable: {left: 0, right: 0, top: 0, bottom: 0.25}},
    {name: '', colour: 'cream', pattern: 'plain', directional: false},
  ],
};
export const DOTS = {...plain('Dots', 6, 6, 24, 'paper'), kind: 'pad', faces: [{name: 'Dots', colour: 'light blue', pattern: 'quiet', directional: false}]};
export const CARDSTOCK = plain('White cardstock', 8.5, 11, 20, 'cardstock');
export const STRIP = {...plain('Kraft', 1.5, 12, 3, 'paper'), kind: 'strip'};

/** @param {string} name @param {number} width @param {number} height @param {number} count @param {string} weight */
function plain(name, width, height, count, weight) {
  const faces = [{name: '', colour: '', pattern: 'plain', directional: false}];
  return {schema: 1, name, kind: 'sheet', unit: 'in', width, height, count, weight, notes: '', tags: [], faces};
}

/**
 * Puts papers into the drawer as another program would.
 * @param {string} address
 * @param {...object} papers
 */
export async function addPapers(address, ...papers) {
  for (const paper of papers) {
    const response = await fetch(`${address}/api/papers`, {
      method: 'POST', headers: {'Content-Type': 'application/json'}, body: JSON.stringify(paper),
    });
    if (response.status !== 201) throw new Error(await response.text());
  }
}
