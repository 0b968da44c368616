// Two versions of one layout that were both made from an earlier one, brought
// together part by part: what only one of them changed is taken from that one,
// what both changed is the person's to choose (three-way merge). Pure; no DOM.

import {elementName, factsText, sizeText} from './logic.js';
import {showLength} from './lengths.js';

/** @typedef {import('./logic.js').Element} Element */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {'mine' | 'theirs'} Whose */
/**
 * @typedef {object} Difference
 * @property {string} key `title`, `notes`, `tags`, `card`, `order` or `element ID`
 * @property {string} name
 * @property {string} mine what it is in mine, in words
 * @property {string} theirs
 * @property {Whose} choice what is proposed
 * @property {boolean} both whether both changed it
 */

/** Words shown of a long note. */
const LONGEST_WORDS = 80;

/** @param {unknown} a @param {unknown} b */
const same = (a, b) => JSON.stringify(a ?? null) === JSON.stringify(b ?? null);

/**
 * Every part in which the two versions differ.
 * @param {Layout} base what both were made from
 * @param {Layout} mine
 * @param {Layout} theirs
 * @returns {Difference[]}
 */
export function differences(base, mine, theirs) {
  /** @type {Difference[]} */
  const found = [];
  /**
   * @param {string} key
   * @param {string} name
   * @param {unknown[]} values of base, mine and theirs
   * @param {string[]} words of mine and theirs
   */
  const compare = (key, name, [before, ours, other], [oursText, otherText]) => {
    if (same(ours, other)) return;
    const both = !same(before, ours) && !same(before, other);
    found.push({key, name, mine: oursText, theirs: otherText, both, choice: same(before, ours) ? 'theirs' : 'mine'});
  };
  compare('title', 'Title', [base.title, mine.title, theirs.title], [shown(mine.title), shown(theirs.title)]);
  compare('card', 'Card', [base.card, mine.card, theirs.card], [cardWords(mine), cardWords(theirs)]);
  for (const id of idsOf(mine, theirs)) {
    const [before, ours, other] = [base, mine, theirs].map((record) => record.elements.find((element) => element.id === id));
    const name = ours ? elementName(mine, ours) : other ? elementName(theirs, other) : '';
    compare(`element ${id}`, name, [before, ours, other], [elementWords(mine, ours, other, before), elementWords(theirs, other, ours, before)]);
  }
  const orders = [base, mine, theirs].map((record) => sharedOrder(record, mine, theirs));
  compare('order', 'Order of the stack', orders, [orderWords(mine, orders[1]), orderWords(theirs, orders[2])]);
  compare('tags', 'Tags', [base.tags, mine.tags, theirs.tags], [shown(mine.tags.join(', ')), shown(theirs.tags.join(', '))]);
  compare('notes', 'Notes', [base.notes, mine.notes, theirs.notes], [shown(mine.notes), shown(theirs.notes)]);
  return found;
}

/**
 * @param {Layout} base
 * @param {Layout} mine
 * @param {Layout} theirs
 * @param {Record<string, Whose>} choices by key; what is left out goes as proposed
 * @returns {Layout}
 */
export function merged(base, mine, theirs, choices) {
  const proposed = Object.fromEntries(differences(base, mine, theirs).map(({key, choice}) => [key, choice]));
  const whose = (/** @type {string} */ key) => choices[key] ?? proposed[key] ?? 'mine';
  const from = (/** @type {string} */ key) => (whose(key) === 'mine' ? mine : theirs);
  const lead = from('order');
  const other = lead === mine ? theirs : mine;
  const elements = idsOf(lead, other).flatMap((id) => from(`element ${id}`).elements.filter((element) => element.id === id));
  return {...theirs, ...pick(mine, 'capture'), card: from('card').card, title: from('title').title, notes: from('notes').notes, tags: from('tags').tags, elements};
}

/** @param {Layout} record @param {'capture'} key */
const pick = (record, key) => (key in record ? {[key]: record[key]} : {});

/**
 * Ids in the order of the first; those only the second has come after the one
 * they lie on there.
 * @param {Layout} first
 * @param {Layout} second
 */
function idsOf(first, second) {
  const ids = first.elements.map(({id}) => id);
  second.elements.forEach(({id}, i) => {
    if (ids.includes(id)) return;
    const under = second.elements[i - 1]?.id;
    const at = under === undefined ? 0 : ids.indexOf(under) + 1;
    ids.splice(at, 0, id);
  });
  return ids;
}

/**
 * @param {Layout} record
 * @param {Layout} mine
 * @param {Layout} theirs
 */
function sharedOrder(record, mine, theirs) {
  const has = (/** @type {Layout} */ one, /** @type {number} */ id) => one.elements.some((element) => element.id === id);
  return record.elements.map(({id}) => id).filter((id) => has(mine, id) && has(theirs, id));
}

/** @param {string} text */
function shown(text) {
  const tidy = text.trim();
  if (tidy === '') return 'empty';
  return tidy.length > LONGEST_WORDS ? `${tidy.slice(0, LONGEST_WORDS)}…` : tidy;
}

/** @param {Layout} record */
const cardWords = ({card, unit}) => `${card.name} ${showLength(card.width, unit)} x ${showLength(card.height, unit)}`.trim();

/** @param {Layout} record @param {number[]} ids */
const orderWords = (record, ids) => ids.map((id) => {
  const element = record.elements.find((one) => one.id === id);
  return element ? elementName(record, element).replace(/^\d+ /, '') : '';
}).join(', ');

/**
 * An element in words: its size and place, and what else sets it apart from the other version's.
 * @param {Layout} record
 * @param {Element | undefined} element
 * @param {Element | undefined} other
 * @param {Element | undefined} before
 */
function elementWords(record, element, other, before) {
  if (!element) return before ? 'deleted' : 'not there';
  const {unit} = record;
  const words = [sizeText(element, unit), `${showLength(element.x, unit)} from the left, ${showLength(element.y, unit)} from the top`];
  if (other && element.shape !== other.shape) words.unshift(element.shape);
  if ((element.role ?? '') !== (other?.role ?? '')) words.push(element.role ?? 'panel');
  const [facts, others] = [factsText(element, unit), other ? factsText(other, unit) : ''];
  if (facts !== others) words.push(facts || 'plain');
  return words.join(', ');
}
