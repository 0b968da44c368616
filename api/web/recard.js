// A layout copied to a card of another size: before and after side by side.

import {drawingOf} from './drawing.js';
import {ask, make, makeSvg, show} from './dom.js';
import {convert, showLength} from './lengths.js';
import {cardText, draftOf} from './logic.js';
import {carriedTo} from './resize-card.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./client.js').Card} Card */
/** @typedef {import('./logic.js').Layout} Layout */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const heading = make('h2', {id: 'recard-heading', tabIndex: -1}, 'Copy to another card size');
  const select = make('select', {id: 'recard-card'});
  const turned = make('input', {type: 'checkbox', id: 'recard-turned'});
  const [before, after] = [make('figure', {}), make('figure', {})];
  const factors = make('p', {className: 'help', role: 'status'});
  const dialog = make('dialog', {className: 'recard', 'aria-labelledby': heading.id},
    heading,
    make('p', {}, 'Margins up to half an inch stay as they are, what is centred stays centred, marks keep their size. The rest grows or shrinks with the card and goes back to eighths.'),
    make('div', {className: 'row'},
      make('div', {className: 'field'}, make('label', {htmlFor: 'recard-card'}, 'New card'), select),
      make('label', {className: 'check'}, turned, 'Turned: wide instead of high')),
    make('div', {className: 'versions'}, before, after), factors,
    make('div', {className: 'row'},
      make('button', {type: 'button', className: 'button strong', onclick: () => { if (copy) ask(place, 'save-new', {record: copy}); }}, 'Save as a new layout'),
      make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'close-recard')}, 'Cancel')));
  dialog.addEventListener('cancel', () => ask(place, 'close-recard'));
  place.append(dialog);

  /** @type {Layout | null} */
  let record = null;
  /** @type {Card[]} */
  let cards = [];
  /** @type {Layout | null} */
  let copy = null;
  const draw = () => {
    const card = cards.find(({name}) => name === select.value);
    if (!record || !card) return;
    const made = carriedTo(record, card, turned.checked);
    copy = {...made, title: record.title.trim() === '' ? '' : `${record.title.trim()} (${card.name})`.slice(0, 200)};
    figure(before, 'Before', record);
    figure(after, 'After', copy);
    const share = (/** @type {number} */ a, /** @type {number} */ b) => String(Number((a / b).toFixed(2)));
    const was = [record.card.width, record.card.height].map((side) => convert(side, record?.unit ?? 'in', copy?.unit ?? 'in'));
    factors.textContent = `The card becomes ${share(copy.card.width, was[0])} times as wide and ${share(copy.card.height, was[1])} times as high.`;
  };
  select.addEventListener('change', draw);
  turned.addEventListener('change', draw);
  return {
    update(state) {
      const draft = draftOf(state.work);
      if (state.recard && draft && !dialog.open) {
        ({record} = draft);
        ({cards} = state);
        select.replaceChildren(...cards.map(({name, width, height, unit}) =>
          make('option', {value: name}, `${name}: ${showLength(width, unit)} x ${showLength(height, unit)}`)));
        select.value = cards.find(({name}) => name !== record?.card.name)?.name ?? '';
        turned.checked = record.card.width > record.card.height;
        draw();
        dialog.showModal();
        heading.focus();
      }
      if (!state.recard && dialog.open) dialog.close();
      show(factors, dialog.open);
    },
  };
}

/**
 * @param {HTMLElement} place
 * @param {string} name
 * @param {Layout} record
 */
function figure(place, name, record) {
  const drawing = make('div', {});
  drawing.append(makeSvg(drawingOf(record, {sizes: true, chosen: [], name})));
  place.replaceChildren(make('figcaption', {}, `${name}: ${cardText(record)}`), drawing);
}
