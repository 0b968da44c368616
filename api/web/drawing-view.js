// The measured drawing, to be worked on directly. Dragging moves, a handle
// resizes or turns; each also goes by keys and by single clicks: a handle that
// was clicked goes where the next click is, and the panel below has step buttons.

import {around, boxOf, move, tidyTurn} from './arrange.js';
import {drawingOf, marginOf} from './drawing.js';
import {ask, make, makeSvg, setText, show, touchedId} from './dom.js';
import {HANDLES, handlePlace, pulled, roundedBy} from './handles.js';
import {convert, showLength, stepOf} from './lengths.js';
import {chosenOf, draftOf, elementName} from './logic.js';
import {linesOf, restOf} from './snapping.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./logic.js').Element} LayoutElement */
/** @typedef {import('./logic.js').Layout} Layout */
/** @typedef {import('./logic.js').Point} Point */
/** @typedef {import('./logic.js').Work} Work */
/** @typedef {import('./snapping.js').SnapLine} SnapLine */
/** @typedef {number | 'turn' | 'round'} Grip index of a handle, or the one that turns, or the one that rounds corners */

/** A line pulls from this near, in screen px. */
const PULL_PX = 7;
/** A hand that moved less than this only touched, in screen px. */
const TOUCH_PX = 4;
/** Handles stand this far outside the shape, in screen px, so that the shape can be taken hold of. */
const OUT_PX = 11;
/** How far beyond the top the handle that turns stands, in screen px. */
const TURN_OUT_PX = 44;
/** A handle's size, as in the style sheet, in px. */
const HANDLE_PX = 28;
/** How far inside the rounded corner the handle that rounds stands, in screen px. */
const ROUND_IN_PX = 22;
/** A rectangle narrower than this on the screen has no room for that handle, in px. */
const LEAST_ROUND_PX = 84;
/** A side shorter than this on the screen has handles at its corners only, in px. */
const SHORT_SIDE_PX = 76;
/** Degrees that turning goes by; with Shift, the second. */
const [TURN_STEP, BIG_TURN_STEP] = [1, 15];
/** While dragging, turning goes by this, so that right angles are met. */
const DRAG_TURN_STEP = 5;
/** Steps of the grid that an arrow key moves with Shift: a quarter of an inch. */
const BIG_STEPS = 4;

/** @type {Record<string, Point>} */
const ARROWS = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const canvas = make('div', {className: 'drawn'});
  /** @type {Grip[]} */
  const whats = [...HANDLES.keys(), 'turn', 'round'];
  const names = [...HANDLES.map(({name}) => `Pull the ${name}`), 'Turn', 'Round the corners'];
  const grips = names.map((name, i) => make('button', {
    type: 'button', className: i < HANDLES.length ? 'grip' : 'grip turn', 'aria-label': name, 'aria-pressed': 'false', 'aria-describedby': 'drawing-help',
    title: name,
  }));
  const held = make('div', {className: 'snap-words', 'aria-hidden': 'true'});
  const sheet = make('div', {
    className: 'drawing', tabIndex: 0, role: 'group', 'aria-label': 'Measured drawing, arrow keys move what is chosen', 'aria-describedby': 'drawing-help',
  }, canvas, ...grips, held);
  const toggle = (/** @type {string} */ id, /** @type {string} */ text, /** @type {string} */ verb) => make('button', {
    type: 'button', id, className: 'button small toggle', 'aria-pressed': 'false', onclick: () => ask(place, verb),
  }, text);
  const distances = toggle('show-distances', 'Distances', 'toggle-distances');
  const several = toggle('choose-several', 'Choose several', 'toggle-several');
  const shapes = /** @type {const} */ ([['rectangle', 'Panel'], ['circle', 'Circle'], ['oval', 'Oval'], ['banner', 'Banner'], ['mark', 'Mark']]);
  const shelf = make('div', {className: 'row', id: 'new-shapes'}, ...shapes.map(([shape, text]) => make('button', {
    type: 'button', className: 'button small', onclick: () => {
      ask(place, 'add-shape', {shape});
      sheet.focus();
    },
  }, text)));
  const add = make('button', {
    type: 'button', id: 'add-shape', className: 'button small', 'aria-expanded': 'false', 'aria-controls': 'new-shapes', onclick: () => openShelf(shelf.inert),
  }, 'Add a shape');
  const openShelf = (/** @type {boolean} */ open) => {
    show(shelf, open);
    add.setAttribute('aria-expanded', String(open));
  };
  openShelf(false);
  const help = make('p', {id: 'drawing-help', className: 'help'});
  const part = make('figure', {className: 'picture'}, make('figcaption', {}, 'Measured drawing'), sheet,
    make('div', {className: 'row'}, add, several, distances), shelf, help);
  place.append(part);

  /** @type {Work | null} */
  let work = null;
  /** @type {import('./actions.js').State | null} */
  let state = null;
  /** @type {SnapLine[]} */
  let lines = [];
  /** The grip that was clicked and waits for its place. @type {Grip | null} */
  let waiting = null;
  /**
   * @typedef {object} Drag A press of the hand and what becomes of it.
   * @property {'move' | 'place' | Grip | null} what it does if it moves; `place` puts a waiting handle
   * @property {string} gesture
   * @property {Point} from on the screen
   * @property {Layout} record as it was
   * @property {LayoutElement[]} elements as they were
   * @property {number | null} id of the shape that was pressed
   * @property {boolean} more whether it is added to what is chosen
   * @property {boolean} settled whether the press has chosen already
   * @property {boolean} moved
   * @property {PointerEvent | null} last
   */
  /** @type {Drag | null} */
  let drag = null;
  let gestures = 0;

  /** Width of the sheet in screen px, known without asking for a layout in the middle of a drag. */
  let widthPx = 0;
  new ResizeObserver(() => {
    widthPx = sheet.clientWidth;
    if (widthPx > 0) redraw();
  }).observe(sheet);

  const record = () => /** @type {Layout} */ (draftOf(work)?.record);
  /** Screen px of one unit of the record. */
  const scale = () => {
    const {card, unit} = record();
    return widthPx / (card.width + 2 * convert(marginOf(state?.distances ?? false), 'in', unit));
  };
  /**
   * Where on the card the pointer is.
   * @param {{clientX: number, clientY: number}} at
   * @returns {Point}
   */
  const onCard = ({clientX, clientY}) => {
    const box = sheet.getBoundingClientRect();
    const room = convert(marginOf(state?.distances ?? false), 'in', record().unit);
    return [(clientX - box.left) / scale() - room, (clientY - box.top) / scale() - room];
  };
  const others = (/** @type {number[]} */ ids) => record().elements
    .filter(({id, shape}) => !ids.includes(id) && shape !== 'mark')
    .map((element) => ({box: boxOf(element), name: elementName(record(), element)}));

  /**
   * What the hand does so far, as a change of the record when the drag began.
   * @param {Drag} now
   * @param {PointerEvent} event
   */
  const follow = ({what, gesture, from, record: before, elements}, event) => {
    const by = /** @type {Point} */ ([(event.clientX - from[0]) / scale(), (event.clientY - from[1]) / scale()]);
    const ids = elements.map(({id}) => id);
    const reach = event.altKey ? 0 : PULL_PX / scale();
    const near = others(ids);
    if (what === 'move') {
      const whole = around(elements.map(boxOf));
      const at = {...whole, x: whole.x + by[0], y: whole.y + by[1]};
      const rest = restOf(at, near, before.card, before.unit, reach);
      edit((now) => move(now, ids, by[0] + rest.dx, by[1] + rest.dy), gesture);
    } else if (what === 'turn') {
      const [element] = elements;
      const degrees = angleAt(element, onCard(event));
      const step = event.shiftKey ? TURN_STEP : DRAG_TURN_STEP;
      set(element.id, () => ({rotation: tidyTurn(Math.round(degrees / step) * step)}), gesture);
    } else if (what === 'round') {
      set(elements[0].id, (old) => roundedBy(before, old, by), gesture);
    } else if (typeof what === 'number') {
      const [element] = elements;
      set(element.id, (old) => pulled(before, old, HANDLES[what], by, {others: near, reach}), gesture);
    }
    lines = what === 'turn' || what === 'round' ? [] : linesOf(around(chosenOf(work).map(boxOf)), near, before.card, before.unit);
  };
  /**
   * @param {(record: Layout) => Layout} change
   * @param {string | null} [gesture]
   */
  const edit = (change, gesture = null) => ask(place, 'edit-layout', {change, gesture});
  /**
   * @param {number} id
   * @param {(element: LayoutElement) => Partial<LayoutElement>} change
   * @param {string | null} [gesture]
   */
  const set = (id, change, gesture = null) => edit((now) => ({
    ...now, elements: now.elements.map((element) => (element.id === id ? {...element, ...change(element)} : element)),
  }), gesture);

  /**
   * @param {Drag['what']} what
   * @param {PointerEvent} event
   * @param {Partial<Drag>} [more]
   */
  const begin = (what, event, more = {}) => {
    drag = {
      what, gesture: `drag ${gestures += 1}`, from: [event.clientX, event.clientY], record: record(),
      elements: chosenOf(work), id: null, more: false, settled: true, moved: false, last: null, ...more,
    };
    if (what !== null) sheet.setPointerCapture(event.pointerId);
  };
  sheet.addEventListener('pointerdown', (event) => {
    if (!work || event.button !== 0) return;
    const grip = grips.indexOf(/** @type {any} */ (event.target));
    if (grip >= 0) {
      begin(whats[grip], event);
    } else if (waiting !== null) {
      begin('place', event);
    } else {
      const id = touchedId(event);
      const more = event.shiftKey || event.ctrlKey || event.metaKey || (state?.several ?? false);
      const already = id !== null && work.chosen.includes(id);
      // A finger scrolls the page until it has chosen the shape; a mouse may drag it at once.
      const finger = event.pointerType === 'touch';
      const settled = id !== null && !already && !finger;
      if (settled) ask(place, 'pick-element', {id, more});
      begin(id !== null && (already || !finger) ? 'move' : null, event, {id, more, settled});
    }
  });
  // The shape that was pressed is drawn anew at once: the browser would not know what to focus.
  sheet.addEventListener('mousedown', (event) => {
    if (grips.includes(/** @type {any} */ (event.target))) return;
    event.preventDefault();
    sheet.focus({preventScroll: true});
  });
  // A finger on a chosen shape moves it instead of the page.
  sheet.addEventListener('touchstart', (event) => {
    const id = touchedId(event);
    if (event.touches.length === 1 && id !== null && work?.chosen.includes(id) && waiting === null) event.preventDefault();
  }, {passive: false});
  let framed = false;
  sheet.addEventListener('pointermove', (event) => {
    if (!drag) {
      ask(place, 'near-element', {id: touchedId(event)});
      return;
    }
    if (!drag.moved && Math.hypot(event.clientX - drag.from[0], event.clientY - drag.from[1]) < TOUCH_PX) return;
    drag.moved = true;
    drag.last = event;
    if (framed || drag.what === null || drag.what === 'place') return;
    framed = true;
    // Once a frame, with the last place of the hand.
    requestAnimationFrame(() => {
      framed = false;
      if (drag?.last) follow(drag, drag.last);
    });
  });
  sheet.addEventListener('pointerleave', () => ask(place, 'near-element', {id: null}));
  sheet.addEventListener('pointercancel', () => {
    drag = null;
    lines = [];
    ask(place, 'cancel-gesture');
  });
  sheet.addEventListener('pointerup', (event) => {
    if (!drag || !work) return;
    const done = drag;
    const {what, id, more} = done;
    if (done.moved && what !== null && what !== 'place') follow(done, event);
    drag = null;
    lines = [];
    if (done.moved && what !== 'place') {
      ask(place, 'end-gesture');
      tellWhere(what);
    } else if (what === 'place') {
      putGrip(onCard(event));
    } else if (what !== null && what !== 'move') {
      wait(waiting === what ? null : what);
    } else if (!done.settled && !(id === null && more)) {
      ask(place, 'pick-element', {id, more});
    }
    redraw();
  });
  /** @param {Grip | null} what */
  const wait = (what) => {
    waiting = what;
    tellHelp();
    redraw();
  };
  /** The handle that was clicked goes to a place. @param {Point} to */
  const putGrip = (to) => {
    const [element] = chosenOf(work);
    const what = waiting;
    waiting = null;
    tellHelp();
    if (!element || what === null) return;
    if (what === 'turn') {
      set(element.id, () => ({rotation: tidyTurn(Math.round(angleAt(element, to) / TURN_STEP) * TURN_STEP)}));
    } else if (what === 'round') {
      const at = handlePlace(element, roundPlace(element, 1 / scale()));
      set(element.id, (old) => roundedBy(record(), old, [to[0] - at[0], to[1] - at[1]]));
    } else {
      const at = handlePlace(element, HANDLES[what]);
      const snap = {others: others([element.id]), reach: PULL_PX / scale()};
      set(element.id, (old) => pulled(record(), old, HANDLES[what], [to[0] - at[0], to[1] - at[1]], snap));
    }
    tellWhere(what);
  };
  grips.forEach((grip, i) => {
    const what = whats[i];
    // A press of Enter or Space; the pointer's own clicks are done with above.
    grip.addEventListener('click', (event) => {
      if (event.detail === 0) wait(waiting === what ? null : what);
    });
    grip.addEventListener('keydown', (event) => {
      const way = ARROWS[event.key];
      const [element] = chosenOf(work);
      if (!way || !element) return;
      event.preventDefault();
      if (what === 'turn') {
        const by = (way[0] || way[1]) * (event.shiftKey ? BIG_TURN_STEP : TURN_STEP);
        set(element.id, () => ({rotation: tidyTurn((element.rotation ?? 0) + by)}));
      } else if (what === 'round') {
        const step = stepOf(record().unit, 'position') * (way[0] || way[1]) * (event.shiftKey ? 2 : 1);
        set(element.id, (old) => roundedBy(record(), old, alongSides(old, step)));
      } else {
        const step = stepOf(record().unit, 'size') * (event.shiftKey ? 2 : 1);
        set(element.id, (old) => pulled(record(), old, HANDLES[what], [way[0] * step, way[1] * step]));
      }
      tellWhere(what);
    });
  });

  /** @param {LayoutElement} element @param {Point} to */
  const angleAt = (element, [x, y]) => (Math.atan2(y - element.y - element.height / 2, x - element.x - element.width / 2) * 180) / Math.PI + 90;
  /** Says what a change came to. @param {Drag['what']} what */
  const tellWhere = (what) => {
    const chosen = chosenOf(work);
    if (chosen.length === 0) return;
    const {unit} = record();
    const say = (/** @type {number} */ value) => showLength(value, unit);
    const [element] = chosen;
    const box = around(chosen);
    const text = what === 'turn' ? `Turned ${element.rotation ?? 0}°`
      : what === 'round' ? `Corner radius ${say(element.corner_radius ?? 0)}`
      : what === 'move' ? `${say(box.x)} from the left, ${say(box.y)} from the top`
        : `${say(element.width)} wide, ${say(element.height)} high`;
    ask(place, 'tell', {text});
  };
  const tellHelp = () => {
    const words = work?.chosen.length === 0
      ? 'Touch a shape to choose it, drag it to move it.'
      : waiting === null
        ? 'Drag it, or use the arrow keys (Shift moves further). A handle can be dragged, moved by arrow keys, or touched and then put where you touch next.'
        : 'Now touch the place where this handle goes. Escape leaves it where it is.';
    setText(help, words);
  };

  sheet.addEventListener('keydown', (event) => {
    if (!work || !draftOf(work) || (event.target !== sheet && event.key !== 'Escape')) return;
    const ids = chosenOf(work).map(({id}) => id);
    const way = ARROWS[event.key];
    if (way && ids.length > 0) {
      event.preventDefault();
      const step = stepOf(record().unit, 'position') * (event.shiftKey ? BIG_STEPS : 1);
      ask(place, 'move-chosen', {by: [way[0] * step, way[1] * step]});
    } else if ((event.key === 'Delete' || event.key === 'Backspace') && ids.length > 0) {
      event.preventDefault();
      ask(place, 'delete-chosen');
    } else if (event.key === 'Escape') {
      if (drag) {
        drag = null;
        lines = [];
        ask(place, 'cancel-gesture');
      } else if (waiting !== null) wait(null);
      else ask(place, 'pick-element', {id: null});
    } else if (event.key === 'PageUp' || event.key === 'PageDown') {
      const all = record().elements;
      if (all.length === 0) return;
      event.preventDefault();
      const at = all.findIndex(({id}) => id === work?.chosen.at(-1));
      const next = event.key === 'PageUp' ? (at + 1) % all.length : (at <= 0 ? all.length : at) - 1;
      ask(place, 'pick-element', {id: all[next].id, more: event.shiftKey});
      ask(place, 'tell', {text: elementName(record(), all[next])});
    } else if (event.key.toLowerCase() === 'a' && (event.ctrlKey || event.metaKey)) {
      event.preventDefault();
      ask(place, 'choose-all');
    }
  });

  const redraw = () => {
    if (!work || !draftOf(work)) return;
    const now = record();
    const {card, unit} = now;
    const wide = state?.distances ?? false;
    const room = convert(marginOf(wide), 'in', unit);
    const whole = [card.width + 2 * room, card.height + 2 * room];
    sheet.style.setProperty('--aspect', String(whole[0] / whole[1]));
    const drawn = makeSvg(drawingOf(now, {sizes: true, chosen: work.chosen, name: 'drawing', distances: wide, lines}));
    canvas.replaceChildren(drawn);
    if (now.elements.length === 0) canvas.append(make('p', {className: 'blank'}, 'No elements: a plain card.'));
    held.textContent = [...new Set(lines.map(({words}) => words))].join(' · ');
    show(held, lines.length > 0);
    placeGrips(room, whole);
  };

  /** @param {number} room @param {number[]} whole */
  const placeGrips = (room, whole) => {
    const chosen = chosenOf(work);
    const one = chosen.length === 1 ? chosen[0] : null;
    const px = widthPx / whole[0];
    grips.forEach((grip, i) => {
      const what = whats[i];
      const turn = what === 'turn';
      const handle = HANDLES[i] ?? (turn || !one ? {sx: 0, sy: -1} : roundPlace(one, 1 / px));
      const side = handle.sx === 0 ? one?.width ?? 0 : one?.height ?? 0;
      const corner = handle.sx !== 0 && handle.sy !== 0;
      const shown = one !== null && (
        what === 'round' ? one.shape === 'rectangle' && Math.min(one.width, one.height) * px >= LEAST_ROUND_PX
          : corner || (turn ? one.shape !== 'circle' && one.shape !== 'mark' : side * px >= SHORT_SIDE_PX));
      show(grip, shown);
      grip.setAttribute('aria-pressed', String(waiting === what));
      if (!one || !shown) return;
      const [x, y] = handlePlace(one, handle);
      const away = outwards(one, handle);
      const out = what === 'round' ? 0 : (turn ? TURN_OUT_PX : OUT_PX) * (corner ? 0.8 : 1);
      // Never off the sheet, where it could not be reached: what turns then stands inside the shape.
      const inside = (/** @type {number} */ value, /** @type {number} */ axis) =>
        Math.min(Math.max(value + room * px, HANDLE_PX / 2), whole[axis] * px - HANDLE_PX / 2);
      const beside = (/** @type {number} */ far) => [x * px + away[0] * far, y * px + away[1] * far];
      const off = turn && beside(out).some((value, axis) => Math.abs(inside(value, axis) - value - room * px) > 1);
      const at = beside(off ? -out : out).map(inside);
      grip.style.left = `${(at[0] / (whole[0] * px)) * 100}%`;
      grip.style.top = `${(at[1] / (whole[1] * px)) * 100}%`;
    });
  };

  /** @type {unknown[]} */
  let shown = [];
  return {
    update(next) {
      state = next;
      ({work} = next);
      const draft = draftOf(work);
      show(place, draft !== null);
      if (!draft || !work) return;
      distances.setAttribute('aria-pressed', String(next.distances));
      several.setAttribute('aria-pressed', String(next.several));
      const now = [draft.record, work.chosen, next.distances, lines];
      if (now.some((value, i) => value !== shown[i])) {
        if (work.chosen !== shown[1]) waiting = null;
        shown = now;
        redraw();
        tellHelp();
      }
      for (const shape of canvas.querySelectorAll('.shape')) {
        shape.classList.toggle('near', Number(shape.getAttribute('data-id')) === work.near);
      }
    },
  };
}

/**
 * Which way is out at a handle, as a unit step on the screen.
 * @param {LayoutElement} element
 * @param {{sx: number, sy: number}} handle
 * @returns {Point}
 */
function outwards(element, {sx, sy}) {
  const angle = ((element.rotation ?? 0) * Math.PI) / 180;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  return [sx * cos - sy * sin, sx * sin + sy * cos];
}

/**
 * Where the handle that rounds corners stands: inside the top-left corner, as
 * far from it as the corner is round and a little more.
 * @param {LayoutElement} element
 * @param {number} px one screen px in the record's unit
 */
function roundPlace({width, height, corner_radius: radius = 0}, px) {
  const far = Math.min(radius + ROUND_IN_PX * px, width / 2, height / 2);
  return {sx: (2 * far) / width - 1, sy: (2 * far) / height - 1};
}

/**
 * A pull of one length along both sides of an element as it lies.
 * @param {LayoutElement} element
 * @param {number} by
 * @returns {Point}
 */
function alongSides(element, by) {
  const angle = ((element.rotation ?? 0) * Math.PI) / 180;
  return [by * (Math.cos(angle) - Math.sin(angle)), by * (Math.sin(angle) + Math.cos(angle))];
}
