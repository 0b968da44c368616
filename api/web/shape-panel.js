// What is chosen, in numbers and words: everything the drawing shows of it can
// be read and set here, with keys or single clicks. For several at once, what
// brings them into order.

import {align, centre, distribute, equalMargins, restack, tidyTurn} from './arrange.js';
import {ask, make, setText, setValue, show} from './dom.js';
import {choice, lengthStepper} from './fields.js';
import {endDepth} from './geometry.js';
import {stepOf} from './lengths.js';
import {chosenOf, draftOf, elementName, reshaped} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./logic.js').Element} LayoutElement */
/** @typedef {import('./logic.js').Field} Field */
/** @typedef {import('./logic.js').Layout} Layout */

/** @type {{field: Field, label: string, step: 'size' | 'position'}[]} */
const LENGTHS = [
  {field: 'width', label: 'Width', step: 'size'}, {field: 'height', label: 'Height', step: 'size'},
  {field: 'x', label: 'From left', step: 'position'}, {field: 'right', label: 'From right', step: 'position'},
  {field: 'y', label: 'From top', step: 'position'}, {field: 'bottom', label: 'From bottom', step: 'position'},
];
/** @type {[string, string][]} */
const SHAPES = [['rectangle', 'Rectangle'], ['circle', 'Circle'], ['oval', 'Oval'], ['banner', 'Banner'], ['mark', 'Mark']];
/** @type {[string, string][]} */
const KINDS = [['dot', 'Dot'], ['heart', 'Heart'], ['star', 'Star'], ['flower', 'Flower'], ['other', 'Other']];
/** @type {[string, string][]} */
const ENDS = [['straight', 'Straight'], ['fishtail', 'Fishtail'], ['point', 'Point'], ['angled', 'Angled']];
/** @type {[string, string][]} */
const ROLES = [
  ['background', 'Background'], ['mat', 'Mat'], ['panel', 'Panel'], ['strip', 'Strip'], ['focal', 'Focal point'],
  ['sentiment', 'Sentiment'], ['embellishment', 'Small piece'],
];
/** @type {[string, string][]} */
const LETTERS = [['', 'None'], ...Array.from({length: 26}, (_, i) => /** @type {[string, string]} */ ([String.fromCharCode(65 + i), String.fromCharCode(65 + i)]))];
/** Most mats an element has; the service's own limit. */
const MOST_MATS = 10;

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  /** @type {number[]} */
  let ids = [];
  /** @type {Layout | null} */
  let record = null;
  /** @param {(record: Layout) => Layout} change @param {string} [said] */
  const edit = (change, said) => ask(place, 'edit-layout', {change, said});
  /** @param {(element: LayoutElement) => LayoutElement} change */
  const set = (change) => edit((now) => ({
    ...now, elements: now.elements.map((element) => (ids.includes(element.id) ? change(element) : element)),
  }));
  /** @param {string} text @param {() => void} onclick @param {string} [more] */
  const button = (text, onclick, more = '') => make('button', {type: 'button', className: `button small ${more}`, onclick}, text);
  /** @param {string} name @param {...HTMLElement} buttons */
  const group = (name, ...buttons) => make('div', {className: 'tools', role: 'group', 'aria-label': name},
    make('span', {className: 'tools-name', 'aria-hidden': 'true'}, name), ...buttons);

  const lengths = LENGTHS.map(({field, label, step}) => ({
    field, ...lengthStepper({id: `chosen-${field}`, label, step, change: (value) => ask(place, 'correct-element', {id: ids[0], field, value})}),
  }));
  const shape = choice('chosen-shape', 'Shape', SHAPES, (value) =>
    set((element) => reshaped(element, /** @type {LayoutElement['shape']} */ (value))));
  const kind = choice('chosen-kind', 'Looks like', KINDS, (value) => set((element) => ({...element, kind: value})));
  const [left, right] = /** @type {const} */ (['left', 'right']).map((end) => choice(`chosen-end-${end}`, '', ENDS, (value) => set((element) => ({
    ...element, ends: {...(element.ends ?? {left: 'straight', right: 'fishtail'}), [end]: value},
  }))));
  const depth = lengthStepper({
    id: 'chosen-depth', label: 'Depth of the ends', step: 'position', least: 1,
    change: (value) => set((element) => ({
      ...element, ends: {...(element.ends ?? {left: 'straight', right: 'fishtail'}), depth: Math.min(value, Math.max(element.width, element.height) / 2)},
    })),
  });
  const radius = lengthStepper({
    id: 'chosen-radius', label: 'Corner radius', step: 'position', least: 0,
    change: (value) => set((element) => ({...element, corner_radius: Math.min(value, Math.min(element.width, element.height) / 2)})),
  });
  const turn = make('input', {type: 'text', inputMode: 'decimal', id: 'chosen-turn', autocomplete: 'off', 'aria-describedby': 'turn-fault'});
  const turnFault = make('p', {className: 'fault', id: 'turn-fault', hidden: true});
  const turnTo = (/** @type {number} */ degrees) => set((element) => ({...element, rotation: tidyTurn(degrees)}));
  const turnNow = () => chosen()[0]?.rotation ?? 0;
  turn.addEventListener('change', () => {
    const degrees = Number(turn.value.replace(/[°\s]/g, '').replace('−', '-').replace(',', '.'));
    const fine = turn.value.trim() !== '' && Number.isFinite(degrees) && Math.abs(degrees) <= 360;
    if (fine) turn.removeAttribute('aria-invalid');
    else turn.setAttribute('aria-invalid', 'true');
    turnFault.textContent = fine ? '' : 'Write degrees, such as 45 or -10.';
    show(turnFault, !fine);
    if (fine) turnTo(degrees);
  });
  const turnField = make('div', {className: 'stepper'}, make('label', {htmlFor: 'chosen-turn'}, 'Turned, degrees'),
    make('div', {className: 'stepped'},
      make('button', {type: 'button', className: 'step', 'aria-label': 'Turned, degrees: less', onclick: () => turnTo(turnNow() - 1)}, make('span', {'aria-hidden': 'true'}, '−')),
      turn,
      make('button', {type: 'button', className: 'step', 'aria-label': 'Turned, degrees: more', onclick: () => turnTo(turnNow() + 1)}, make('span', {'aria-hidden': 'true'}, '+'))),
    turnFault);
  const role = choice('chosen-role', 'What it is for', ROLES, (value) => set((element) => ({...element, role: value})));
  const slot = choice('chosen-slot', 'Paper letter', LETTERS, (value) => set((element) => ({...element, slot: value || null})));
  const raised = make('input', {type: 'checkbox', id: 'chosen-raised', onchange: () => set((element) => ({...element, raised: raised.checked}))});
  const mats = make('div', {className: 'mats'});
  const addMat = button('Add a mat', () => set((element) => {
    const now = element.mats ?? [];
    const step = stepOf(record?.unit ?? 'in', 'size') * (record?.unit === 'mm' ? 3 : 1);
    return now.length >= MOST_MATS ? element : {...element, mats: [...now, (now.at(-1) ?? 0) + step]};
  }));

  const lines = /** @type {const} */ ([['left', 'Left'], ['centre', 'Centre'], ['right', 'Right'], ['top', 'Top'], ['middle', 'Middle'], ['bottom', 'Bottom']]);
  const aligning = group('Line up', ...lines.map(([line, text]) => button(text, () => edit((now) => align(now, ids, line), `Lined up: ${text.toLowerCase()}`))));
  const spacing = group('Equal gaps',
    button('Across', () => edit((now) => distribute(now, ids, 'across'), 'Equal gaps across')),
    button('Down', () => edit((now) => distribute(now, ids, 'down'), 'Equal gaps down')));
  const centring = group('Centre on the card',
    button('Across', () => edit((now) => centre(now, ids, 'across'), 'Centred across')),
    button('Down', () => edit((now) => centre(now, ids, 'down'), 'Centred down')));
  const margins = group('Equal margins',
    button('Across', () => edit((now) => equalMargins(now, ids, 'across'), 'Equal margins across')),
    button('Down', () => edit((now) => equalMargins(now, ids, 'down'), 'Equal margins down')));
  const levels = /** @type {const} */ ([['up', 'Up one'], ['down', 'Down one'], ['top', 'To the top'], ['bottom', 'To the bottom']]);
  const stacking = group('In the stack', ...levels.map(([to, text]) => button(text, () => edit((now) => restack(now, ids, to), text))));
  const whole = group('This piece',
    button('Duplicate', () => ask(place, 'duplicate-chosen')),
    button('Delete', () => {
      ask(place, 'delete-chosen');
      document.getElementById('elements-heading')?.focus();
    }, 'danger'));

  const heading = make('h2', {id: 'chosen-heading', tabIndex: -1});
  const numbers = make('div', {className: 'numbers'}, ...lengths.map(({root}) => root), turnField, radius.root);
  const words = make('div', {className: 'numbers'}, shape.root, kind.root, left.root, right.root, depth.root, role.root, slot.root);
  const roomy = matchMedia('(min-width: 44rem)').matches;
  const fold = (/** @type {string} */ name, /** @type {HTMLElement[]} */ ...parts) =>
    make('details', {open: roomy}, make('summary', {}, name), make('div', {className: 'folded'}, ...parts));
  const part = make('section', {className: 'paper chosen', 'aria-labelledby': heading.id}, heading, numbers,
    fold('Shape, paper and mats', words, make('div', {className: 'mat-list'}, mats,
      make('div', {className: 'row'}, addMat, make('label', {className: 'check'}, raised, 'Raised on foam')))),
    fold('Place and stack', aligning, spacing, centring, margins, stacking),
    whole);
  place.append(part);
  const chosen = () => record?.elements.filter(({id}) => ids.includes(id)) ?? [];

  /** @type {ReturnType<typeof lengthStepper>[]} */
  let matFields = [];
  /** @param {number[]} sizes @param {import('./lengths.js').Unit} unit */
  const showMats = (sizes, unit) => {
    if (matFields.length !== sizes.length) {
      matFields = sizes.map((_, i) => lengthStepper({
        id: `chosen-mat-${i}`, label: sizes.length === 1 ? 'Mat, larger by' : `Mat ${i + 1}, larger by`, step: 'size',
        change: (value) => set((element) => ({...element, mats: (element.mats ?? []).map((mat, k) => (k === i ? value : mat))})),
      }));
      mats.replaceChildren(...matFields.map(({root}, i) => make('div', {className: 'mat'}, root,
        button('Remove', () => {
          set((element) => ({...element, mats: (element.mats ?? []).filter((_, k) => k !== i)}));
          addMat.focus();
        }))));
    }
    sizes.forEach((value, i) => matFields[i].update({value, unit}));
  };

  /** @type {unknown[]} */
  let shown = [];
  return {
    update({work}) {
      const draft = draftOf(work);
      const elements = chosenOf(work);
      show(place, draft !== null && elements.length > 0);
      record = draft?.record ?? null;
      ids = elements.map(({id}) => id);
      if (!draft || !record || elements.length === 0) {
        shown = [];
        return;
      }
      if (shown[0] === record && String(shown[1]) === String(ids)) return;
      // Half a number of another element is not this one's.
      if (String(shown[1]) !== String(ids)) for (const input of part.querySelectorAll('[aria-invalid]')) input.removeAttribute('aria-invalid');
      shown = [record, ids];
      const {unit, card} = record;
      const [first] = elements;
      const one = elements.length === 1;
      const all = (/** @type {(element: LayoutElement) => unknown} */ is) => elements.every(is);
      setText(heading, one ? elementName(record, first) : `${elements.length} elements`);
      show(numbers, one);
      const values = {
        width: first.width, height: first.height, x: first.x, y: first.y,
        right: card.width - first.x - first.width, bottom: card.height - first.y - first.height,
      };
      for (const {field, update} of lengths) update({value: values[field], unit});
      show(lengths[1].root, first.shape !== 'circle');
      const label = lengths[0].root.querySelector('label');
      if (label) label.textContent = first.shape === 'circle' ? 'Across' : 'Width';
      setValue(turn, String(first.rotation ?? 0));
      show(turnField, first.shape !== 'circle');
      show(radius.root, first.shape === 'rectangle');
      radius.update({value: first.corner_radius ?? 0, unit});
      /** @param {{select: HTMLSelectElement}} field @param {(element: LayoutElement) => string} of */
      const choose = ({select}, of) => {
        const agree = all((element) => of(element) === of(first));
        const mixed = select.querySelector('option[value="~"]');
        if (agree) mixed?.remove();
        else if (!mixed) select.prepend(make('option', {value: '~', disabled: true}, 'Different'));
        select.value = agree ? of(first) : '~';
      };
      choose(shape, (element) => element.shape);
      show(kind.root, all((element) => element.shape === 'mark'));
      choose(kind, (element) => element.kind ?? 'dot');
      const upright = first.height > first.width;
      for (const [end, field, text] of /** @type {const} */ ([['left', left, upright ? 'Top end' : 'Left end'], ['right', right, upright ? 'Bottom end' : 'Right end']])) {
        show(field.root, all((element) => element.shape === 'banner'));
        const name = field.root.querySelector('label');
        if (name) name.textContent = text;
        choose(field, (element) => element.ends?.[end] ?? (end === 'left' ? 'straight' : 'fishtail'));
      }
      const shaped = all(({shape, ends}) => shape === 'banner' && (ends?.left !== 'straight' || ends?.right !== 'straight'));
      show(depth.root, shaped);
      if (shaped) depth.update({value: endDepth(first), unit});
      choose(role, (element) => element.role ?? 'panel');
      choose(slot, (element) => element.slot ?? '');
      raised.checked = all((element) => element.raised);
      raised.indeterminate = !raised.checked && elements.some((element) => element.raised);
      show(mats, one);
      showMats(one ? first.mats ?? [] : [], unit);
      setText(addMat, one ? 'Add a mat' : 'Add a mat to each');
      addMat.disabled = one && (first.mats ?? []).length >= MOST_MATS;
      show(spacing, elements.length > 2);
    },
  };
}
