// The saved layouts: looking for some, a grid of their drawings, and what is
// done with several at once.

import {tilePictureUrl} from './client.js';
import {ask, make, setValue, show} from './dom.js';
import {cardText, counted, titleOf} from './logic.js';
import {printAllUrl} from './notebook-client.js';
import {conditionsOf, fileOf, ORDERS, PAPERS, SHAPES, totalWords, USES, useWords} from './notebook-logic.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./actions.js').State} State */
/** @typedef {import('./notebook-logic.js').Shelved} Shelved */

/** Rest after the last key before the words are looked for, in ms: one pause of typing. */
const PAUSE_MS = 250;
/** The next part is fetched when its place is this near to the screen, in px: a fling of a thumb. */
const AHEAD_PX = 4000;
/** Tiles of one block, which the browser lays out only near the screen: whole rows of two to six. */
const BLOCK = 60;

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const search = searchForm(place);
  const count = make('p', {className: 'count'});
  const conditions = make('ul', {className: 'conditions', role: 'list', 'aria-label': 'What is looked for'});
  const undo = undoBar(place);
  const tools = toolbar(place);
  const grid = make('div', {className: 'grid', role: 'list', 'aria-label': 'Layouts'});
  const more = make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'show-more')}, 'Show more');
  const empty = make('div', {className: 'empty'},
    make('h2', {}, 'Nothing saved yet'),
    make('ol', {},
      make('li', {}, 'Lay the drawing flat, in even light, and photograph it from straight above.'),
      make('li', {}, 'Check what was read: sizes come in eighths, and anything unsure is asked in words.'),
      make('li', {}, 'Save it. It waits here, measured, for the next set of cards.')));
  const none = nothingFound();
  const chosen = chosenBar(place);
  place.replaceChildren(undo.bar, empty, search.form, conditions, tools.bar, count, none.part, grid, more, chosen.bar);

  grid.addEventListener('click', (event) => {
    const button = event.target instanceof Element ? event.target.closest('button[data-favourite]') : null;
    if (!(button instanceof HTMLElement)) return;
    ask(place, 'mark-favourite', {id: button.dataset.favourite, favourite: button.getAttribute('aria-pressed') !== 'true'});
  });
  grid.addEventListener('change', (event) => {
    const box = event.target;
    if (box instanceof HTMLInputElement && box.dataset.choose) ask(place, 'choose-layout', {id: box.dataset.choose, on: box.checked});
  });
  new IntersectionObserver((entries) => {
    if (entries.some(({isIntersecting}) => isIntersecting)) ask(place, 'need-more');
  }, {rootMargin: `${AHEAD_PX}px`}).observe(more);

  /** Tiles on the grid by the layout they show. @type {Map<Shelved, HTMLElement>} */
  let tiles = new Map();
  /** @type {State['list'] | null} */
  let shownList = null;
  /** @type {State['query'] | null} */
  let shownQuery = null;
  /** @type {ReadonlySet<string> | null} */
  let shownChosen = null;
  /** @type {boolean | null} */
  let shownChoosing = null;
  return {
    update(state) {
      const {list, total, query, listed, choosing} = state;
      const wanted = conditionsOf(query);
      const unused = listed && list.length === 0 && wanted.length === 0 && !state.wrongQuery;
      show(empty, unused);
      show(search.form, listed && !unused);
      show(tools.bar, listed);
      tools.update(state, unused);
      show(none.part, listed && list.length === 0 && wanted.length > 0 && state.busy === null && !state.wrongQuery);
      show(count, list.length > 0);
      const said = state.message.bad ? '' : state.message.text;
      // What was found is said already.
      count.textContent = [totalWords(total, query), said.endsWith('found.') || said.endsWith('layouts.') ? '' : said].filter(Boolean).join(' · ');
      show(more, list.length < total && list.length > 0);
      search.update(state);
      undo.update(state);
      chosen.update(state);
      if (query !== shownQuery) {
        shownQuery = query;
        conditions.replaceChildren(...wanted.map((condition) => make('li', {}, make('button', {
          type: 'button', className: 'condition', 'aria-label': `Forget: ${condition.words}`,
          onclick: () => ask(place, 'forget-condition', {condition}),
        }, condition.words, make('span', {'aria-hidden': 'true'}, ' ×')))));
        none.update(wanted.length);
      }
      show(conditions, wanted.length > 0);
      if (list !== shownList) {
        shownList = list;
        tiles = arrange(grid, tiles, list, state.chosen);
      }
      if (state.chosen !== shownChosen || choosing !== shownChoosing) {
        shownChosen = state.chosen;
        shownChoosing = choosing;
        grid.classList.toggle('choosing', choosing);
        for (const box of grid.querySelectorAll('input[data-choose]')) {
          if (!(box instanceof HTMLInputElement)) continue;
          box.checked = state.chosen.has(box.dataset.choose ?? '');
          box.closest('[role="listitem"]')?.classList.toggle('chosen', box.checked);
        }
      }
    },
  };
}

/**
 * Brings the grid to a list, with the tiles that it has where they still hold.
 * @param {HTMLElement} grid
 * @param {Map<Shelved, HTMLElement>} before
 * @param {Shelved[]} list
 * @param {ReadonlySet<string>} chosen
 */
function arrange(grid, before, list, chosen) {
  const tiles = new Map(list.map((one) => [one, before.get(one) ?? tile(one, chosen.has(one.id))]));
  for (const [one, item] of before) if (!tiles.has(one)) swap(item, list.find(({id}) => id === one.id), tiles);
  const items = [...tiles.values()];
  const blocks = Math.ceil(items.length / BLOCK);
  while (grid.children.length < blocks) grid.append(make('div', {className: 'block', role: 'none'}));
  for (let k = 0; k < blocks; k += 1) fill(grid.children[k], items.slice(k * BLOCK, (k + 1) * BLOCK));
  while (grid.children.length > blocks) grid.lastElementChild?.remove();
  return tiles;
}

/**
 * Puts the items at the block's beginning; what is behind them goes to the blocks after it.
 * @param {Element} block
 * @param {HTMLElement[]} items
 */
function fill(block, items) {
  let next = block.firstElementChild;
  for (const item of items) {
    if (item === next) next = next.nextElementSibling;
    else block.insertBefore(item, next);
  }
}

/**
 * A tile of a layout that was changed: its new tile takes its place, and the
 * keyboard if it was there.
 * @param {HTMLElement} old
 * @param {Shelved | undefined} now
 * @param {Map<Shelved, HTMLElement>} tiles
 */
function swap(old, now, tiles) {
  const fresh = now && tiles.get(now);
  if (!fresh) return old.remove();
  const focused = old.contains(document.activeElement) ? document.activeElement : null;
  old.replaceWith(fresh);
  if (focused instanceof HTMLElement) {
    const same = focused.id ? document.getElementById(focused.id) : null;
    same?.focus();
  }
}

/** @param {Shelved} stored @param {boolean} isChosen */
function tile(stored, isChosen) {
  const {id, record, shelf} = stored;
  const {elements, tags} = record;
  const title = titleOf(record);
  const facts = [
    `${cardText(record)} · ${counted(elements.length, 'element')}`,
    ...(tags.length > 0 ? [tags.join(', ')] : []),
    ...(shelf.uses > 0 ? [useWords(shelf)] : []),
  ];
  return make('div', {className: isChosen ? 'chosen' : '', role: 'listitem'},
    make('a', {href: `#/layouts/${encodeURIComponent(id)}`, id: `layout-${id}`, className: 'tile'},
      make('span', {className: 'tile-picture'},
        make('img', {src: tilePictureUrl(stored), alt: '', loading: 'lazy', decoding: 'async', width: 160, height: 180})),
      make('span', {className: 'tile-title'}, title),
      ...facts.map((fact) => make('span', {className: 'tile-facts'}, fact))),
    make('button', {
      type: 'button', className: 'star', id: `favourite-${id}`, 'data-favourite': id, 'aria-pressed': String(shelf.favourite),
    }, make('span', {'aria-hidden': 'true'}, shelf.favourite ? '★ ' : '☆ '), 'Favourite', make('span', {className: 'heard'}, ` ${title}`)),
    make('label', {className: 'check choose'}, make('input', {type: 'checkbox', 'data-choose': id, checked: isChosen}),
      make('span', {}, 'Choose', make('span', {className: 'heard'}, ` ${title}`))));
}

/** @param {HTMLElement} place */
function searchForm(place) {
  /** @param {string} id @param {string} label @param {[string, string][]} options @param {string} key */
  const select = (id, label, options, key) => {
    const field = make('select', {id, onchange: () => ask(place, 'search-layouts', {query: {[key]: field.value}})},
      ...options.map(([value, words]) => make('option', {value}, words)));
    return {field, block: make('div', {className: 'field'}, make('label', {htmlFor: id}, label), field)};
  };
  /** @param {string} id @param {string} label @param {string} key @param {string} hint */
  const size = (id, label, key, hint) => {
    const field = make('input', {
      type: 'text', id, autocomplete: 'off', placeholder: hint, 'aria-describedby': 'search-wrong',
      onchange: () => ask(place, 'search-layouts', {query: {[key]: field.value}}),
    });
    return {field, block: make('div', {className: 'field'}, make('label', {htmlFor: id}, label), field)};
  };
  const text = make('input', {type: 'search', id: 'search-text', autocomplete: 'off', maxLength: 200});
  let typing = 0;
  text.addEventListener('input', () => {
    clearTimeout(typing);
    typing = window.setTimeout(() => ask(place, 'search-layouts', {query: {text: text.value}}), PAUSE_MS);
  });
  const order = select('search-order', 'Order', ORDERS, 'order');
  const card = select('search-card', 'Card', [['', 'Any']], 'card');
  const tag = select('search-tag', 'Tag', [['', 'Any']], 'tag');
  const slots = select('search-slots', 'Patterned papers', PAPERS, 'slots');
  const used = select('search-used', 'Use', USES, 'used');
  /** @type {[string, string][]} */
  const pieces = [['any', 'Any piece'], ...SHAPES.slice(0, -1).map((word) => /** @type {[string, string]} */ ([word, `${word[0].toUpperCase()}${word.slice(1)}`]))];
  const piece = select('search-piece', 'A piece', pieces, 'piece');
  const atMost = size('search-at-most', 'no wider than', 'atMost', '2 1/2');
  const fits = size('search-fits', 'Every piece from a paper of', 'fits', '6 x 6');
  const boxes = SHAPES.map((shape) => {
    const box = make('input', {
      type: 'checkbox', value: shape,
      onchange: () => ask(place, 'search-layouts', {query: {shapes: boxes.filter(({checked}) => checked).map(({value}) => value)}}),
    });
    return box;
  });
  const shapes = make('fieldset', {className: 'shapes'}, make('legend', {}, 'It has a'),
    ...boxes.map((box) => make('label', {className: 'check'}, box, box.value)));
  const favourite = make('input', {
    type: 'checkbox', id: 'search-favourite', onchange: () => ask(place, 'search-layouts', {query: {favourite: favourite.checked}}),
  });
  const wrong = make('p', {className: 'fault', id: 'search-wrong'});
  const form = make('form', {className: 'search', role: 'search', 'aria-label': 'Search', onsubmit: (/** @type {Event} */ event) => {
    event.preventDefault();
    clearTimeout(typing);
    ask(place, 'search-layouts', {query: {text: text.value}});
  }},
  make('div', {className: 'search-first'},
    make('div', {className: 'field'}, make('label', {htmlFor: 'search-text'}, 'Look for'), text),
    order.block,
    make('label', {className: 'check'}, favourite, 'Favourites only')),
  make('details', {className: 'search-more'}, make('summary', {}, 'By shape, paper, size and use'),
    make('div', {className: 'search-fields'}, shapes,
      make('div', {className: 'pair'}, piece.block, atMost.block),
      fits.block, slots.block, card.block, tag.block, used.block)),
  wrong);
  /** @type {unknown} */
  let shownCards = null;
  /** @type {unknown} */
  let shownTags = null;
  return {
    form,
    /** @param {State} state */
    update({query, cards, tags, wrongQuery}) {
      if (cards !== shownCards) {
        shownCards = cards;
        card.field.replaceChildren(make('option', {value: ''}, 'Any'), ...cards.map(({name}) => make('option', {value: name}, name)));
      }
      if (tags !== shownTags) {
        shownTags = tags;
        tag.field.replaceChildren(make('option', {value: ''}, 'Any'),
          ...tags.map((one) => make('option', {value: one.tag}, `${one.tag} (${one.layouts})`)));
      }
      setValue(text, query.text);
      setValue(atMost.field, query.atMost);
      setValue(fits.field, query.fits);
      for (const [field, value] of /** @type {const} */ ([[order.field, query.order], [card.field, query.card], [tag.field, query.tag],
        [slots.field, query.slots], [used.field, query.used], [piece.field, query.piece]])) field.value = value;
      for (const box of boxes) box.checked = query.shapes.includes(box.value);
      favourite.checked = query.favourite;
      show(wrong, wrongQuery !== '');
      wrong.textContent = wrongQuery;
    },
  };
}

/** @param {HTMLElement} place */
function toolbar(place) {
  const choose = make('button', {type: 'button', className: 'button', id: 'start-choosing', onclick: () => ask(place, 'start-choosing')}, 'Choose several');
  const files = make('input', {
    type: 'file', id: 'bring-in', className: 'heard', accept: '.json,application/json', multiple: true,
    onchange: () => {
      ask(place, 'bring-in-files', {files: [...files.files ?? []]});
      files.value = '';
    },
  });
  const bar = make('div', {className: 'row tools'}, choose,
    make('span', {className: 'file'}, files, make('label', {htmlFor: 'bring-in', className: 'button'}, 'Bring in a layout file')));
  return {
    bar,
    /** @param {State} state @param {boolean} unused */
    update({choosing, list}, unused) {
      show(choose, !choosing && !unused && list.length > 0);
    },
  };
}

function nothingFound() {
  const words = make('p', {});
  const part = make('div', {className: 'empty'}, make('h2', {}, 'No layout has all of this'), words);
  return {
    part,
    /** @param {number} count */
    update(count) {
      words.textContent = count > 1
        ? 'Press one of the conditions above to forget it, and look again with the rest.'
        : 'Press the condition above to see all layouts again. A word is found by its beginning, in titles, tags and notes; a size is the shorter side of a piece.';
    },
  };
}

/** @param {HTMLElement} place */
function undoBar(place) {
  const words = make('p', {});
  const bar = make('div', {className: 'undo-bar', role: 'group', 'aria-label': 'Deleted layouts'}, words,
    make('button', {type: 'button', id: 'undo-together', className: 'button strong', onclick: () => ask(place, 'undo-together')}, 'Undo'),
    make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'dismiss-together')}, 'Leave them deleted'));
  return {
    bar,
    /** @param {State} state */
    update({deletedTogether}) {
      show(bar, deletedTogether.length > 0);
      const is = deletedTogether.length === 1 ? 'is' : 'are';
      words.textContent = `${counted(deletedTogether.length, 'layout')} ${is} deleted.`;
    },
  };
}

/** @param {HTMLElement} place */
function chosenBar(place) {
  const words = make('p', {className: 'message'});
  const tag = make('input', {type: 'text', id: 'chosen-tag', autocomplete: 'off', maxLength: 60});
  /** @param {'add' | 'remove'} way */
  const tagThem = (way) => {
    const tags = tag.value.split(',').map((one) => one.trim()).filter(Boolean);
    if (tags.length === 0) return tag.focus();
    ask(place, 'tag-chosen', {[way]: tags});
    tag.value = '';
  };
  const perPage = make('select', {id: 'chosen-per-page'},
    ...[['4', '4 to a page'], ['2', '2 to a page'], ['6', '6 to a page'], ['9', '9 to a page'], ['1', 'Measured, true scale']]
      .map(([value, label]) => make('option', {value}, label)));
  const paper = make('select', {id: 'chosen-paper'},
    ...[['', 'Usual'], ['letter', 'Letter'], ['a4', 'A4']].map(([value, label]) => make('option', {value}, label)));
  const print = make('a', {className: 'button strong', target: '_blank', rel: 'noopener'}, 'Print (PDF)');
  const data = make('button', {type: 'button', className: 'button'}, 'Data (JSON)');
  const deleteThem = make('button', {type: 'button', className: 'button quiet', onclick: () => ask(place, 'delete-layouts')}, 'Delete');
  /** @type {State | null} */
  let state = null;
  data.addEventListener('click', () => {
    const records = state?.list.filter(({id}) => state?.chosen.has(id)).map(({record}) => record) ?? [];
    if (records.length > 0) offer(fileOf(records));
  });
  const setPrint = () => {
    print.href = printAllUrl([...state?.chosen ?? []], perPage.value, paper.value);
  };
  perPage.addEventListener('change', setPrint);
  paper.addEventListener('change', setPrint);
  /** @type {[HTMLElement, string, string][]} */
  const labelled = [[perPage, 'chosen-per-page', 'Layouts'], [paper, 'chosen-paper', 'Paper'], [tag, 'chosen-tag', 'Tag']];
  const [perPageField, paperField, tagField] = labelled.map(([field, id, label]) =>
    make('div', {className: 'field'}, make('label', {htmlFor: id}, label), field));
  const add = make('button', {type: 'button', className: 'button', onclick: () => tagThem('add')}, 'Add tag');
  const remove = make('button', {type: 'button', className: 'button', onclick: () => tagThem('remove')}, 'Take tag away');
  // Closed until wanted: the layouts stay in sight on a phone.
  const makeCards = () => {
    const layouts = state?.list.filter(({id}) => state?.chosen.has(id)).map(({id, record}) => ({id, title: record.title, unit: record.unit, card: record.card})) ?? [];
    ask(place, 'begin-batch', {layouts});
  };
  const actions = make('div', {className: 'chosen-actions'},
    make('button', {type: 'button', className: 'button strong', onclick: makeCards}, 'Make cards of these'),
    make('details', {className: 'chosen-more', name: 'chosen'}, make('summary', {className: 'button'}, 'Tags'),
      make('div', {className: 'row'}, tagField, add, remove)),
    make('details', {className: 'chosen-more', name: 'chosen'}, make('summary', {className: 'button'}, 'Print'),
      make('div', {className: 'row'}, perPageField, paperField, print)),
    data, deleteThem);
  const bar = make('div', {className: 'chosen-bar', role: 'group', 'aria-label': 'Chosen layouts'},
    make('div', {className: 'row'}, words,
      make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'choose-shown')}, 'Choose all shown'),
      make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'stop-choosing')}, 'Done')),
    actions);
  return {
    bar,
    /** @param {State} now */
    update(now) {
      state = now;
      show(bar, now.choosing);
      show(actions, now.chosen.size > 0);
      words.textContent = now.chosen.size > 0 ? `${counted(now.chosen.size, 'layout')} chosen` : 'Tick the layouts you want.';
      setPrint();
    },
  };
}

/** Hands the person a file. @param {{name: string, text: string}} file */
function offer({name, text}) {
  const url = URL.createObjectURL(new Blob([text], {type: 'application/json'}));
  make('a', {href: url, download: name}).click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
