// A save was refused because the layout changed elsewhere: both versions are
// shown, and the person takes one, keeps both, or puts them together part by part.

import {drawingOf} from './drawing.js';
import {ask, make, makeSvg, show, unbroken} from './dom.js';
import {draftOf} from './logic.js';
import {differences, merged} from './merge.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./merge.js').Difference} Difference */
/** @typedef {import('./merge.js').Whose} Whose */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  /** @param {string} text @param {() => void} onclick @param {string} [more] */
  const button = (text, onclick, more = '') => make('button', {type: 'button', className: `button ${more}`, onclick}, text);
  const heading = make('h2', {id: 'conflict-heading', tabIndex: -1}, 'Changed somewhere else');
  const figures = make('div', {className: 'versions'});
  const list = make('div', {className: 'differences'});
  const dialog = make('dialog', {className: 'conflict', 'aria-labelledby': 'conflict-heading'},
    heading,
    make('p', {}, 'This layout was saved in another window or on another device since you opened it. Your changes are still here and nothing was overwritten.'),
    figures, list,
    make('div', {className: 'row'},
      button('Save together', () => ask(place, 'save-merged', {record: both}), 'strong'),
      button('Save mine as a copy', () => ask(place, 'save-copy')),
      button('Show the saved one', () => ask(place, 'take-theirs')),
      button('Go on editing', () => ask(place, 'close-conflict'))),
    make('p', {className: 'help'}, 'After showing the saved one or saving together, Undo shows yours again.'));
  dialog.addEventListener('cancel', () => ask(place, 'close-conflict'));
  place.append(dialog);

  /** @type {Record<string, Whose>} */
  let choices = {};
  /** Both versions put together as chosen. @type {Layout | null} */
  let both = null;
  /** @type {unknown} */
  let shown = null;
  return {
    update({conflict, work}) {
      const draft = draftOf(work);
      if (conflict && draft && conflict !== shown) {
        shown = conflict;
        const [base, mine, theirs] = [draft.saved ?? conflict.record, draft.record, conflict.record];
        const found = differences(base, mine, theirs);
        choices = Object.fromEntries(found.map(({key, choice}) => [key, choice]));
        const together = make('div', {});
        const draw = () => {
          both = merged(base, mine, theirs, choices);
          together.replaceChildren(makeSvg(drawingOf(both, {sizes: true, chosen: [], name: 'together'})));
        };
        figures.replaceChildren(version('Yours', mine, 'mine'), version('Saved elsewhere', theirs, 'theirs'),
          make('figure', {}, make('figcaption', {}, 'Together'), together));
        draw();
        list.replaceChildren(...found.map((one) => differenceField(one, (whose) => {
          choices = {...choices, [one.key]: whose};
          draw();
        })));
        show(list, found.length > 0);
      }
      if (!conflict) shown = null;
      if (conflict && !dialog.open) {
        dialog.showModal();
        heading.focus();
      }
      if (!conflict && dialog.open) dialog.close();
    },
  };
}

/**
 * @param {string} name
 * @param {Layout} record
 * @param {string} id
 */
function version(name, record, id) {
  const drawing = make('div', {});
  drawing.append(makeSvg(drawingOf(record, {sizes: true, chosen: [], name: id})));
  return make('figure', {}, make('figcaption', {}, name), drawing);
}

/**
 * @param {Difference} difference
 * @param {(whose: Whose) => void} choose
 */
function differenceField({key, name, mine, theirs, choice, both}, choose) {
  const option = (/** @type {Whose} */ whose, /** @type {string} */ text, /** @type {string} */ words) => make('label', {className: 'check'},
    make('input', {type: 'radio', name: `difference ${key}`, value: whose, checked: whose === choice, onchange: () => choose(whose)}),
    make('span', {}, make('strong', {}, `${text}: `), unbroken(words)));
  return make('fieldset', {className: both ? 'difference both' : 'difference'},
    make('legend', {}, both ? `${name}: changed in both` : name),
    option('mine', 'Yours', mine), option('theirs', 'Saved elsewhere', theirs));
}
