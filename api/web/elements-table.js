// The table that says the same as the drawing, and corrects it.

import {ask, make, setText, show, unbroken} from './dom.js';
import {lengthInput} from './fields.js';
import {draftOf, factsText, kindName} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./logic.js').Element} LayoutElement */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {{element: LayoutElement, record: Layout, place: number, lit: boolean, near: boolean}} RowData */
/** @typedef {{rows: HTMLElement[], update: (data: RowData) => void}} Row */

/** @type {{field: 'x' | 'y' | 'width' | 'height', label: string, of: string, step: 'size' | 'position'}[]} */
const COLUMNS = [
  {field: 'width', label: 'Width', of: 'Width of', step: 'size'},
  {field: 'height', label: 'Height', of: 'Height of', step: 'size'},
  {field: 'x', label: 'From left', of: 'Distance from the left of', step: 'position'},
  {field: 'y', label: 'From top', of: 'Distance from the top of', step: 'position'},
];

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const body = make('tbody', {role: 'rowgroup'});
  const heads = ['Element', ...COLUMNS.map(({label}) => label), 'Delete'].map((text) =>
    make('th', {scope: 'col', role: 'columnheader'}, text));
  const unit = make('p', {className: 'help'});
  const heading = make('h2', {id: 'elements-heading', tabIndex: -1}, 'Elements');
  const table = make('table', {role: 'table', 'aria-labelledby': 'elements-heading'},
    make('thead', {role: 'rowgroup'}, make('tr', {role: 'row'}, ...heads)), body);
  place.append(make('section', {className: 'paper'}, heading, unit, table));

  /** @type {Map<number, Row>} */
  let rows = new Map();
  /** @type {string | null} */
  let order = null;
  /** The draft the rows belong to: what was half typed in another's stays there. @type {string | null} */
  let owner = null;
  return {
    update(state) {
      const draft = draftOf(state.work);
      show(place, draft !== null);
      if (!draft || !state.work) return;
      const {record} = draft;
      show(table, record.elements.length > 0);
      setText(unit, record.elements.length === 0
        ? 'Nothing was found on this card, or all of it was deleted. Adjusting the corners and reading again may help.'
        : `From the bottom of the stack to the top, in ${record.unit === 'in' ? 'inches' : 'millimetres'}. ` +
          unbroken('Write sizes like 4 1/4, 4.25 or 108 mm.'));
      const whose = `${state.work.photo?.id} ${state.work.at} ${draft.id}`;
      if (whose !== owner) rows = new Map();
      const key = `${whose} ${record.elements.map(({id}) => id)}`;
      owner = whose;
      if (key !== order) {
        const focused = [...body.children].findIndex((row) => row.contains(document.activeElement));
        order = key;
        rows = new Map(record.elements.map(({id}) => [id, rows.get(id) ?? makeRow(place, id)]));
        body.replaceChildren(...[...rows.values()].flatMap((row) => row.rows));
        // The row that had the keyboard is gone: go to the one in its place.
        if (focused >= 0 && !body.contains(document.activeElement)) {
          const next = body.children[Math.min(focused, body.children.length - 2)];
          (next?.querySelector('button') ?? heading).focus();
        }
      }
      record.elements.forEach((element, i) => {
        rows.get(element.id)?.update({
          element, record, place: i + 1,
          lit: state.work?.chosen.includes(element.id) ?? false, near: element.id === state.work?.near,
        });
      });
    },
  };
}

/**
 * @param {HTMLElement} place
 * @param {number} id
 * @returns {Row}
 */
function makeRow(place, id) {
  const fault = make('p', {className: 'fault', id: `fault-${id}`});
  const faultRow = make('tr', {role: 'row', className: 'fault-row', hidden: true},
    make('td', {colSpan: COLUMNS.length + 2, role: 'cell'}, fault));
  const name = make('button', {
    type: 'button', className: 'element-name',
    onclick: (/** @type {MouseEvent} */ event) => ask(place, 'pick-element', {id, more: event.shiftKey || event.ctrlKey || event.metaKey}),
  });
  const facts = make('span', {className: 'facts'});
  const remove = make('button', {
    type: 'button', className: 'delete', onclick: () => ask(place, 'delete-element', {id}),
  }, make('span', {'aria-hidden': 'true'}, '×'));

  /** @param {string} message */
  const complain = (message) => {
    fault.textContent = unbroken(message);
    show(faultRow, message !== '');
  };
  const lengths = COLUMNS.map(({field, step}) => lengthInput({
    step, complain, described: fault.id, change: (value) => ask(place, 'correct-element', {id, field, value}),
  }));
  const inputs = lengths.map(({input}) => input);
  const row = make('tr', {role: 'row', className: 'element-row'},
    make('th', {scope: 'row', role: 'rowheader'}, name, facts),
    ...COLUMNS.map(({label, field}, i) => {
      const cell = make('td', {role: 'cell', className: `at-${field}`}, inputs[i]);
      cell.dataset.label = label;
      return cell;
    }),
    make('td', {role: 'cell', className: 'at-delete'}, remove));
  // What has the keyboard or is under the pointer is lit in the pictures as well.
  row.addEventListener('focusin', () => ask(place, 'near-element', {id}));
  row.addEventListener('focusout', () => ask(place, 'near-element', {id: null}));
  row.addEventListener('pointerenter', () => ask(place, 'near-element', {id}));
  row.addEventListener('pointerleave', () => ask(place, 'near-element', {id: null}));
  row.addEventListener('keydown', (event) => {
    if (event.key === 'Delete' && !(event.target instanceof HTMLInputElement)) ask(place, 'delete-element', {id});
  });

  return {
    rows: [row, faultRow],
    update(now) {
      const kind = kindName(now.element);
      const called = `${now.place} ${kind}`;
      if (name.dataset.called !== called) {
        name.dataset.called = called;
        name.replaceChildren(make('span', {className: 'number'}, String(now.place)), ` ${kind}`);
        remove.setAttribute('aria-label', `Delete ${called}`);
        inputs.forEach((input, i) => input.setAttribute('aria-label', `${COLUMNS[i].of} ${called}`));
      }
      const words = unbroken(factsText(now.element, now.record.unit));
      setText(facts, words);
      if (name.getAttribute('aria-pressed') !== String(now.lit)) name.setAttribute('aria-pressed', String(now.lit));
      row.classList.toggle('lit', now.lit);
      row.classList.toggle('near', now.near);
      lengths.forEach((length, i) => length.update({value: now.element[COLUMNS[i].field], unit: now.record.unit}));
    },
  };
}
