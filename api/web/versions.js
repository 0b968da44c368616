// Every saved version of the open layout: any two side by side, and any
// brought back.

import {ask, make, show} from './dom.js';
import {counted, draftOf, isChanged} from './logic.js';
import {versionUrl} from './notebook-client.js';
import {dayWords, differences} from './notebook-logic.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./notebook-actions.js').History} History */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const open = make('button', {type: 'button', className: 'button', id: 'open-versions'}, 'Show earlier versions');
  const close = make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'close-versions')}, 'Close');
  const count = make('p', {className: 'help'});
  const [left, right] = ['left', 'right'].map((side) => sideOf(place, side, () => compare()));
  const told = make('ul', {className: 'differences'});
  const only = make('p', {className: 'help'});
  const unsaved = make('p', {className: 'help'}, 'Save or undo your changes first, then an earlier version can be brought back.');
  const inside = make('div', {className: 'versions'}, count, only, unsaved,
    make('div', {className: 'sides'}, left.part, right.part),
    make('h3', {}, 'What is different'), told);
  const part = make('section', {className: 'paper', 'aria-labelledby': 'versions-heading'},
    make('h2', {id: 'versions-heading'}, 'Earlier versions'),
    make('p', {className: 'help'}, 'Each time you save, the layout as it was before is kept.'),
    make('div', {className: 'row'}, open, close), inside);
  place.append(part);
  /** @type {string | null} */
  let id = null;
  open.addEventListener('click', () => ask(place, 'load-versions', {id}));
  function compare() {
    ask(place, 'compare-versions', {left: left.chosen(), right: right.chosen()});
  }
  return {
    update({work, history}) {
      const draft = draftOf(work);
      id = draft?.id ?? null;
      show(place, id !== null);
      const mine = history?.id === id ? history : null;
      show(open, mine === null);
      show(close, mine !== null);
      show(inside, mine !== null);
      if (!mine || !draft) return;
      const kept = mine.versions.filter(({deleted}) => !deleted);
      count.textContent = `${counted(kept.length, 'version')}. The newest is what you see in the notebook.`;
      show(only, kept.length === 1);
      only.textContent = 'There is nothing earlier yet: save a change and both are here.';
      const changed = isChanged(draft);
      show(unsaved, changed);
      left.update(mine, mine.left, changed);
      right.update(mine, mine.right, changed);
      const [before, after] = [mine.left, mine.right].map((version) => (version === null ? undefined : mine.records[version]));
      const sentences = before && after ? differences(before, after) : [];
      told.replaceChildren(...(sentences.length > 0 ? sentences : [before && after ? 'Nothing: they are the same.' : 'Choose two versions.'])
        .map((sentence) => make('li', {}, sentence)));
    },
  };
}

/**
 * @param {HTMLElement} place
 * @param {string} side `left` or `right`
 * @param {() => void} compare
 */
function sideOf(place, side, compare) {
  const name = side === 'left' ? 'This version' : 'beside this one';
  const select = make('select', {id: `version-${side}`, onchange: compare});
  const picture = make('img', {className: 'version-picture', width: 320, height: 400});
  const restore = make('button', {type: 'button', className: 'button'});
  const present = make('p', {className: 'help'}, 'This is the present one.');
  const part = make('div', {className: 'side'},
    make('div', {className: 'field'}, make('label', {htmlFor: select.id}, name), select), picture, restore, present);
  restore.addEventListener('click', () => ask(place, 'restore-version', {version: Number(select.value)}));
  /** @type {unknown} */
  let shown = null;
  return {
    part,
    chosen: () => (select.value === '' ? null : Number(select.value)),
    /** @param {History} history @param {number | null} version @param {boolean} changed */
    update(history, version, changed) {
      if (history.versions !== shown) {
        shown = history.versions;
        select.replaceChildren(...history.versions.filter(({deleted}) => !deleted).map((one) =>
          make('option', {value: String(one.version)}, `${one.version}, ${dayWords(one.saved_at)}: ${one.title || 'untitled'}`)));
      }
      show(part, version !== null);
      if (version === null) return;
      select.value = String(version);
      const url = versionUrl(history.id, version);
      if (picture.getAttribute('src') !== url) picture.src = url;
      picture.alt = `Drawing of version ${version}; what is different is told below`;
      const newest = version === history.versions[0].version;
      show(restore, !newest);
      show(present, newest);
      restore.textContent = `Bring back version ${version}`;
      restore.disabled = changed;
    },
  };
}
