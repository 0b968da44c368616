// One import: how far it is, what needs a look, and what came in.

import {photoUrl, sentenceOf} from './client.js';
import {ask, make, setText, show} from './dom.js';
import {alikePart} from './import-alike.js';
import {countsWords, endWords, isOver, many, paceWords, progressWords, sortOut, stateWords, whenWords} from './import-logic.js';
import {picture, tileBlocks} from './import-tiles.js';
import {showLength} from './lengths.js';
import {messageLine} from './screen-parts.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./actions.js').State} State */
/** @typedef {import('./import-actions.js').OpenImport} OpenImport */
/** @typedef {import('./import-logic.js').Item} Item */
/** @typedef {import('./import-logic.js').Groups} Groups */

/** Longest sides of pictures on tiles, in pixels. */
const TILE_PX = 320;
/** Lines of a list that is opened, at first. */
const MOST_LINES = 200;

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const heading = make('h1', {id: 'import-heading', tabIndex: -1});
  const message = messageLine();
  const progress = progressPart(place);
  const undo = undoPart(place);
  const card = cardPart(place);
  const alike = alikePart(place);
  const doubtful = tilesPart('doubtful-heading', 'Look at these', 'They are in the notebook. Open one, put it right where it is wrong, and save it.', (item) => layoutTile(place, item));
  const none = tilesPart('none-heading', 'No layout found', 'Show where the card is, and the picture is read again.', (item) => cornersTile(place, item));
  const unreadable = listPart('p', 'Not readable');
  const read = tilesPart('read-heading', 'Read without doubt', '', (item) => layoutTile(place, item));
  const there = listPart('details', 'already there');
  const blank = listPart('details', 'blank');
  const waiting = make('p', {className: 'help'}, 'Drawings appear here as they are read.');
  place.append(
    make('a', {className: 'back', href: '#/imports'}, make('span', {'aria-hidden': 'true'}, '←'), ' Your imports'),
    heading, message.line, progress.part, undo.bar, card.part, alike.part, doubtful.part, none.part, unreadable.part, waiting, read.part, there.part, blank.part);
  place.addEventListener('click', (event) => {
    const link = event.target instanceof Element ? event.target.closest('a[data-layout]') : null;
    if (link instanceof HTMLElement) ask(place, 'look-at-layout', {layout: Number(link.dataset.layout), tile: link.id});
  });
  /** @type {unknown[]} */
  let shown = [];
  /** @type {Groups | null} */
  let groups = null;
  return {
    update(state) {
      const open = state.imports?.open ?? null;
      show(place, open !== null);
      if (!open) return;
      const busy = state.busy !== null;
      message.update(state.message);
      setText(heading, `Import of ${whenWords(open.now.made_at)}`);
      progress.update(state, open);
      undo.update(open);
      const {seen, notes, versions} = open;
      if (!groups || shown[0] !== seen || shown[1] !== notes.back) groups = sortOut(seen, notes.back);
      card.update(state, open, groups.card);
      alike.update(open, groups.alike.length, busy);
      const now = [seen, notes.back, notes, versions];
      if (now.every((one, at) => one === shown[at])) return;
      shown = now;
      const looked = groups.doubtful.filter(({layout}) => layout !== null && notes.looked.has(layout)).length;
      doubtful.update(groups.doubtful, `Look at these: ${groups.doubtful.length.toLocaleString('en-US')}`, looked > 0 ? ` You have opened ${looked} of them.` : '');
      none.update(groups.none, `No layout found: ${many(groups.none.length, 'picture')}`);
      read.update(groups.read, `Read without doubt: ${groups.read.length.toLocaleString('en-US')}`);
      unreadable.update(groups.unreadable, `Not readable: ${many(groups.unreadable.length, 'file')}`);
      there.update(groups.there, `${many(groups.there.length, 'picture')} already there`);
      blank.update(groups.blank, `${many(groups.blank.length, 'blank page')}`);
      show(waiting, seen.files.size === 0 && !isOver(open.now, seen));
      for (const part of [doubtful, read]) part.each((item, tile) => mark(item, tile, open));
      none.each((item, tile) => markByHand(item, tile, notes.byHand));
    },
  };
}

/** @param {HTMLElement} place */
function progressPart(place) {
  const bar = make('progress', {id: 'import-progress', max: 1, value: 0});
  const words = make('label', {htmlFor: 'import-progress', className: 'import-far'});
  const pace = make('p', {className: 'help', id: 'import-pace'});
  const counts = make('p', {id: 'import-counts'});
  const lost = make('p', {className: 'trouble'}, 'The service does not answer. What has been read is kept; this page goes on when it is back.');
  const sending = make('p', {id: 'import-sending'});
  const stop = make('button', {type: 'button', className: 'button small'}, 'Stop sending');
  const sendingRow = make('div', {className: 'row import-sending'}, sending, stop);
  const left = make('p', {className: 'help'}, 'It was left open for more files, and none are on their way from this window.');
  const button = (/** @type {string} */ id, /** @type {string} */ label, /** @type {() => void} */ act) => make('button', {type: 'button', className: 'button', id, onclick: act}, label);
  const pause = button('import-pause', 'Pause', () => ask(place, 'pause-import'));
  const resume = button('import-resume', 'Go on reading', () => ask(place, 'resume-import'));
  const close = button('import-close', 'No more files come', () => ask(place, 'close-import', {id}));
  const report = make('a', {className: 'button', download: ''}, 'As a table (CSV)');
  const giveUp = make('details', {className: 'more'}, make('summary', {}, 'Give it up'),
    make('p', {className: 'help'}, 'What has been read stays in the notebook. Files that were not read yet are let go of.'),
    make('button', {type: 'button', className: 'button danger', onclick: () => ask(place, 'give-up-import')}, 'Give up this import'));
  const part = make('section', {className: 'paper', 'aria-label': 'How far it is'},
    make('div', {className: 'import-words'}, words, pace), bar, counts, lost, sendingRow, left, make('div', {className: 'row'}, resume, pause, close, report), giveUp);
  let id = 0;
  return {
    part,
    /** @param {State} state @param {OpenImport} open */
    update({imports, busy}, {now, samples, seen, lost: isLost}) {
      id = now.id;
      const {state, counts: all} = now;
      const ended = state === 'done' || state === 'canceled';
      const own = imports?.sending.find((one) => one.id === now.id) ?? null;
      setText(words, ended ? endWords(now).replace(/\. .*$/, '.') : `${stateWords(now)}: ${progressWords(all)}`);
      setText(pace, state === 'running' ? paceWords(samples, all.files - all.files_done) : '');
      if (bar.max !== Math.max(1, all.files)) bar.max = Math.max(1, all.files);
      if (bar.value !== all.files_done) bar.value = all.files_done;
      show(bar, !ended || !isOver(now, seen));
      setText(counts, countsWords(all));
      show(lost, isLost && !isOver(now, seen));
      show(sendingRow, own !== null);
      setText(sending, own ? `${own.trouble ? `${own.trouble} ` : ''}${own.sent} of ${many(own.total, 'file')} sent. Keep this window open until all are.` : '');
      sendingRow.classList.toggle('trouble', Boolean(own?.trouble));
      stop.onclick = () => ask(place, 'stop-sending', {sending: own});
      const idle = now.open && !ended && own === null;
      show(left, idle);
      show(close, idle);
      show(pause, state === 'running');
      show(resume, state === 'paused');
      show(giveUp, !ended);
      for (const one of [pause, resume, close]) one.disabled = busy !== null;
      const href = `/api/imports/${now.id}/report.csv`;
      if (report.getAttribute('href') !== href) report.href = href;
    },
  };
}

/** @param {HTMLElement} place */
function undoPart(place) {
  const words = make('p', {});
  const bar = make('div', {className: 'undo-bar', role: 'group', 'aria-label': 'Kept the earlier layout'}, words,
    make('button', {type: 'button', className: 'button', id: 'undo-alike', onclick: () => ask(place, 'undo-alike')}, 'Undo: keep both'));
  return {
    bar,
    /** @param {OpenImport} open */
    update({merged}) {
      show(bar, merged !== null);
      setText(words, merged ? `The earlier one is kept in place of “${merged.title}”.` : '');
    },
  };
}

/** @param {HTMLElement} place */
function cardPart(place) {
  const heading = make('h2', {id: 'card-heading', tabIndex: -1});
  const field = make('select', {id: 'import-say-card'});
  const say = make('button', {type: 'button', className: 'button strong', onclick: () => ask(place, 'say-card', {card: field.value})});
  const form = make('div', {className: 'row import-card'}, make('div', {className: 'field'}, make('label', {htmlFor: 'import-say-card'}, 'Card'), field), say);
  const tiles = tileBlocks('Pictures without a card', (item) => photoTile(item));
  const part = make('section', {className: 'paper', 'aria-labelledby': 'card-heading'}, heading, form, tiles.root);
  /** @type {unknown} */
  let shown = null;
  return {
    part,
    /** @param {State} state @param {OpenImport} open @param {Item[]} items */
    update({cards, card, busy}, {now}, items) {
      show(part, items.length > 0);
      if (items.length === 0) return;
      const ended = now.state === 'canceled';
      setText(heading, ended ? `${many(items.length, 'picture')} without a card` : `${many(items.length, 'picture')}: which card ${items.length === 1 ? 'is it' : 'are they'} for?`);
      show(form, !ended);
      setText(say, items.length === 1 ? 'Read it for this card' : `Read all ${items.length} for this card`);
      say.disabled = busy !== null;
      if (shown !== cards) {
        shown = cards;
        field.replaceChildren(...cards.map(({name, width, height, unit}) => make('option', {value: name}, `${name}: ${showLength(width, unit)} x ${showLength(height, unit)}`)));
        field.value = now.cards[0] ?? card;
      }
      tiles.update(items);
    },
  };
}

/** @param {string} id @param {string} label @param {string} help @param {(item: Item) => HTMLElement} tileOf */
function tilesPart(id, label, help, tileOf) {
  const heading = make('h2', {id, tabIndex: -1});
  const words = make('p', {className: 'help'});
  const tiles = tileBlocks(label, tileOf);
  const part = make('section', {className: 'screen', 'aria-labelledby': id}, heading, ...(help ? [words] : []), tiles.root);
  show(part, false);
  return {
    part,
    each: tiles.each,
    /** @param {Item[]} items @param {string} title @param {string} [more] */
    update(items, title, more = '') {
      show(part, items.length > 0);
      setText(heading, title);
      setText(words, `${help}${more}`);
      tiles.update(items);
    },
  };
}

/** A list of names with reasons: open, or folded into how many there are. @param {'p' | 'details'} kind @param {string} label */
function listPart(kind, label) {
  const list = make('ul', {className: 'plain-list import-lines', role: 'list', 'aria-label': label});
  const title = make(kind === 'p' ? 'h2' : 'summary', {});
  const rest = make('p', {className: 'help'});
  const part = kind === 'p' ? make('section', {className: 'screen'}, title, list, rest) : make('details', {className: 'more import-folded'}, title, list, rest);
  show(part, false);
  /** @type {Item[]} */
  let items = [];
  let drawn = 0;
  const draw = () => {
    if (part instanceof HTMLDetailsElement && !part.open) return;
    const some = items.slice(0, MOST_LINES);
    if (drawn > some.length) list.replaceChildren();
    for (const item of some.slice(list.children.length)) list.append(line(item));
    drawn = some.length;
    const left = items.length - some.length;
    show(rest, left > 0);
    setText(rest, `And ${left} more: the table has them all.`);
  };
  part.addEventListener('toggle', draw);
  return {
    part,
    /** @param {Item[]} now @param {string} words */
    update(now, words) {
      // Later ones are put behind; where one in between is other than it was, the list is made anew.
      if (!items.every((item, at) => item === now[at])) {
        list.replaceChildren();
        drawn = 0;
      }
      items = now;
      show(part, now.length > 0);
      setText(title, words);
      draw();
    },
  };
}

/** @param {Item} item */
function line(item) {
  const reason = item.merged ? 'It was called the same as an earlier layout.' : item.reason;
  const earlier = /\blayout (\d+)/.exec(item.outcome === 'already-there' ? reason : '')?.[1];
  return make('li', {}, make('strong', {}, nameOf(item)), ...(reason ? [make('span', {}, `: ${sentence(reason)}`)] : []),
    ...(earlier && !reason.includes('deleted') ? [' ', make('a', {href: `#/layouts/${earlier}`}, 'Open it')] : []));
}

/** @param {Item} item */
const nameOf = ({folder, file, part}) => [folder ? `${folder}/${file}` : file, ...(part ? [part] : [])].join(', ');

/** What stands below a picture. @param {Item} item @param {boolean} [why] */
const facts = ({file, folder, part, reason}, why = true) => [
  make('span', {className: 'tile-title'}, file),
  ...[folder, part].filter(Boolean).map((words) => make('span', {className: 'tile-facts'}, words)),
  ...(why && reason ? [make('span', {className: 'import-why'}, sentence(reason))] : []),
];

/** @param {string} reason */
const sentence = (reason) => sentenceOf({detail: reason}, 0);

/** @param {number} layout @param {number} version */
const drawingOf = (layout, version) => `/api/layouts/${layout}/versions/${version}/drawing.png?px=${TILE_PX}`;

/** A layout that came in. @param {HTMLElement} _place @param {Item} item */
function layoutTile(_place, item) {
  const layout = item.layout ?? 0;
  return make('div', {role: 'listitem', className: 'import-tile'},
    make('a', {href: `#/layouts/${layout}`, id: `import-layout-${layout}`, className: 'tile', 'data-layout': layout},
      make('span', {className: 'tile-picture'}, picture(drawingOf(layout, 1), '')), ...facts(item), make('span', {className: 'tile-facts import-looked', hidden: true}, '✓ Opened')));
}

/** @param {Item} item @param {HTMLElement} tile @param {OpenImport} open */
function mark({layout}, tile, {notes, versions}) {
  if (layout === null) return;
  const looked = tile.querySelector('.import-looked');
  if (looked instanceof HTMLElement && looked.hidden === notes.looked.has(layout)) looked.hidden = !notes.looked.has(layout);
  const version = versions.get(layout);
  const image = tile.querySelector('img');
  if (version && image && image.getAttribute('src') !== drawingOf(layout, version)) image.src = drawingOf(layout, version);
}

/** A picture without a layout. @param {Item} item */
function photoTile(item) {
  return make('div', {role: 'listitem', className: 'import-tile'}, make('div', {className: 'tile'},
    make('span', {className: 'tile-picture'}, ...(item.photo ? [picture(photoUrl(item.photo, TILE_PX), '')] : [])), ...facts(item)));
}

/** A picture on which the person may show the card. @param {HTMLElement} place @param {Item} item */
function cornersTile(place, item) {
  const tile = photoTile(item);
  if (item.photo) {
    tile.append(make('button', {
      type: 'button', className: 'button small', id: `corners-${item.key}`, onclick: () => ask(place, 'show-import-corners', {item}),
    }, 'Show the four corners', make('span', {className: 'heard'}, ` of ${nameOf(item)}`)));
  }
  return tile;
}

/** @param {Item} item @param {HTMLElement} tile @param {Readonly<Record<string, number>>} byHand */
function markByHand({photo}, tile, byHand) {
  const layout = photo ? byHand[photo] : undefined;
  if (layout === undefined || tile.querySelector('.import-made')) return;
  tile.append(make('a', {className: 'import-made', href: `#/layouts/${layout}`}, 'Read with your corners: open it'));
}
