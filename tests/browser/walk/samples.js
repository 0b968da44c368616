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
