// A layout for the tests: a get-well card with a strip across a panel.

/** @typedef {import('../../../api/web/logic.js').Element} Element */
/** @typedef {import('../../../api/web/logic.js').Layout} Layout */

/**
 * @param {Partial<Element>} more
 * @returns {Element}
 */
export function element(more) {
  return {id: 1, shape: 'rectangle', x: 0.125, y: 0.125, width: 4, height: 5.25, confidence: 1, ...more};
}

/**
 * @param {Partial<Layout>} [more]
 * @returns {Layout}
 */
export function getWell(more = {}) {
  return {
    schema: 1,
    title: 'Get well, with a strip',
    unit: 'in',
    card: {name: 'A2', width: 4.25, height: 5.5, fold: 'left'},
    elements: [
      element({id: 1, role: 'background'}),
      element({id: 2, role: 'strip', x: 0, y: 2, width: 4.25, height: 1}),
      element({id: 5, shape: 'circle', x: 1.25, y: 1.5, width: 1.75, height: 1.75}),
    ],
    notes: '',
    tags: [],
    ...more,
  };
}
