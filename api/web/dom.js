// Small helpers for making elements. Text goes in as text, never as markup.

/** @typedef {import('./drawing.js').Node} SvgNode */

const SVG = 'http://www.w3.org/2000/svg';

/**
 * An element with properties (`className`, `hidden`…), attributes (names with
 * a dash, and `role`), listeners (`onclick`…) and children.
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Record<string, unknown>} [properties]
 * @param {...(Node | string)} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (name.includes('-') || name === 'role') element.setAttribute(name, String(value));
    else Object.assign(element, {[name]: value});
  }
  element.append(...children);
  return element;
}

/**
 * @param {SvgNode} node
 * @returns {SVGElement}
 */
export function makeSvg({tag, attributes, children = [], text}) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  if (text !== undefined) element.textContent = text;
  element.append(...children.map(makeSvg));
  return element;
}

/**
 * Shows or hides a part; what is hidden cannot be reached by keys either.
 * @param {HTMLElement} element
 * @param {boolean} shown
 */
export function show(element, shown) {
  element.hidden = !shown;
  element.inert = !shown;
}

/**
 * Tells whoever mounted the part what the person wants.
 * @param {HTMLElement} from
 * @param {string} verb
 * @param {Record<string, unknown>} [detail]
 */
export function ask(from, verb, detail = {}) {
  from.dispatchEvent(new CustomEvent(verb, {bubbles: true, detail}));
}

/**
 * Writes a text that is not there yet: the same text again would be laid out anew.
 * @param {Element} element
 * @param {string} text
 */
export function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/**
 * Writes into a field unless the person is in the middle of typing there.
 * @param {HTMLInputElement | HTMLTextAreaElement} field
 * @param {string} value
 */
export function setValue(field, value) {
  if (field.value !== value && field.ownerDocument.activeElement !== field) field.value = value;
}

/**
 * The text with its mixed numbers kept on one line.
 * @param {string} text
 */
export const unbroken = (text) => text.replace(/(\d) (\d+\/\d+|mm)/g, '$1\u00a0$2');

/**
 * The id of the element a touch landed on, in a drawing or over a photo.
 * @param {Event} event
 * @returns {number | null}
 */
export function touchedId(event) {
  const target = event.target instanceof Element ? event.target.closest('[data-id]') : null;
  const id = target?.getAttribute('data-id');
  return id ? Number(id) : null;
}
