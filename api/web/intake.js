// Takes a photo in: dropped anywhere, chosen, pasted or taken, for a card.

import {ask, make, setText, show} from './dom.js';
import {showLength} from './lengths.js';
import {isOpen} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */

/** What the service reads, for the file chooser; some systems know the endings alone. */
const PICTURES = 'image/jpeg,image/png,image/webp,image/tiff,image/heic,image/heif,.heic,.heif,.tif,.tiff,.pdf,.zip';
/** Files that may hold many pages. */
const DOCUMENT = /\.(tiff?|pdf|zip)$/i;
/** Longest side of the picture shown while it is read, in px. */
const PREVIEW_PX = 420;

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  /** @param {FileList | null | undefined} files */
  const take = (files) => {
    const all = [...files ?? []];
    // One picture is read at once; more go to an import, which is watched.
    if (all.length > 1 || all.some(({name, webkitRelativePath: path}) => path || DOCUMENT.test(name))) ask(place, 'take-many', {files: all});
    else if (all.length === 1) ask(place, 'read-photos', {files: all});
  };
  /** @param {Record<string, unknown>} more */
  const chooser = (more) => {
    const input = make('input', {type: 'file', accept: PICTURES, multiple: true, className: 'heard', ...more});
    input.addEventListener('change', () => {
      take(input.files);
      input.value = '';
    });
    return input;
  };
  const choose = chooser({id: 'choose-photo'});
  const camera = chooser({id: 'take-photo'});
  camera.setAttribute('capture', 'environment');
  camera.multiple = false;
  const folder = chooser({id: 'choose-folder', webkitdirectory: true, accept: ''});
  const cardSelect = make('select', {
    id: 'card', onchange: () => ask(place, 'choose-card', {card: cardSelect.value}),
  });
  const frameBox = make('input', {
    type: 'checkbox', id: 'whole-photo',
    onchange: () => ask(place, 'choose-frame', {frame: frameBox.checked ? 'photo' : 'outline'}),
  });
  const sheet = make('div', {className: 'drop'},
    make('div', {className: 'drop-words'},
      make('h2', {}, 'Read a drawing'),
      make('p', {}, 'Drop a photo or scan of a layout here, or many in one go: a whole folder, a PDF, a zip archive. All four sides of the card should show.')),
    make('div', {className: 'drop-actions'},
      make('span', {className: 'file'}, choose,
        make('label', {htmlFor: 'choose-photo', className: 'button strong'}, 'Choose a photo')),
      make('span', {className: 'file'}, folder,
        make('label', {htmlFor: 'choose-folder', className: 'button'}, 'Choose a folder')),
      make('span', {className: 'file camera'}, camera,
        make('label', {htmlFor: 'take-photo', className: 'button'}, 'Take a photo')),
      make('a', {href: '#/phone', className: 'button'}, 'Use a phone')),
    make('div', {className: 'drop-options'},
      make('div', {className: 'field'}, make('label', {htmlFor: 'card'}, 'Card'), cardSelect),
      make('label', {className: 'check'}, frameBox, 'No outline drawn: the whole photo is the card')),
  );
  const canvas = make('canvas', {width: 1, height: 1, role: 'img', 'aria-label': 'Your photo'});
  const progress = make('div', {className: 'reading'}, canvas,
    make('div', {className: 'reading-words'},
      make('h2', {}, 'Reading the drawing'),
      make('p', {}, 'Looking for the card, then for each shape on it. This takes a few seconds.'),
      make('div', {className: 'ruler-progress', role: 'progressbar', 'aria-label': 'Reading the photo'})));
  const problem = make('p', {className: 'problem'});
  const waiting = make('div', {className: 'waiting'},
    make('p', {}, 'A layout is waiting to be saved.'),
    make('a', {href: '#/work', className: 'button strong', id: 'continue-work'}, 'Go on with it'),
    make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'discard-work')}, 'Discard it'));
  place.append(waiting, problem, sheet, progress);
  const resume = /** @type {HTMLAnchorElement} */ (waiting.querySelector('a'));

  // A photo may be dropped on any part of the page.
  let over = 0;
  /** @param {boolean} on */
  const mark = (on) => document.body.classList.toggle('dropping', on);
  window.addEventListener('dragenter', () => mark((over += 1) > 0));
  window.addEventListener('dragleave', () => mark((over -= 1) > 0));
  window.addEventListener('dragover', (event) => event.preventDefault());
  window.addEventListener('drop', (event) => {
    event.preventDefault();
    over = 0;
    mark(false);
    const {files, items} = event.dataTransfer ?? {};
    // Folders can only be opened while the drop is being told.
    const entries = [...items ?? []].map((item) => item.webkitGetAsEntry());
    if (entries.some((entry) => entry?.isDirectory)) ask(place, 'take-many', {entries});
    else take(files);
  });
  window.addEventListener('paste', (event) => {
    if (event.clipboardData?.files.length) take(event.clipboardData.files);
  });

  /** @type {unknown} */
  let shownCards = null;
  /** @type {ImageBitmap | null} */
  let shownPreview = null;
  return {
    update(state) {
      if (state.cards !== shownCards) {
        shownCards = state.cards;
        cardSelect.replaceChildren(...state.cards.map(({name, width, height, unit}) =>
          make('option', {value: name}, `${name}: ${showLength(width, unit)} x ${showLength(height, unit)}`)));
      }
      cardSelect.value = state.card;
      frameBox.checked = state.frame === 'photo';
      const reading = state.busy === 'reading';
      show(sheet, !reading);
      show(progress, reading);
      if (state.preview && state.preview !== shownPreview) drawPreview(canvas, state.preview);
      shownPreview = state.preview;
      show(canvas, state.preview !== null);
      show(problem, state.message.bad && state.message.text !== '');
      setText(problem, state.message.bad ? state.message.text : '');
      const draft = state.work?.drafts.find(isOpen);
      show(waiting, !reading && draft !== undefined);
      resume.href = draft?.id ? `#/layouts/${encodeURIComponent(draft.id)}` : '#/work';
    },
  };
}

/**
 * @param {HTMLCanvasElement} canvas
 * @param {ImageBitmap} picture
 */
function drawPreview(canvas, picture) {
  const scale = Math.min(1, PREVIEW_PX / Math.max(picture.width, picture.height));
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext('2d')?.drawImage(picture, 0, 0, canvas.width, canvas.height);
}
