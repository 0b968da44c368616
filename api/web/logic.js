// What can happen to a layout on the page, as pure functions: each takes the
// work as it is and returns the work as it becomes. No DOM, no network, no clock.

import {decidedIn, followedBy} from './decisions.js';
import {placed, sized} from './arrange.js';
import {unprojection} from './geometry.js';
import {convert, showLength} from './lengths.js';
import {continued, mergedReading} from './read-again.js';

/** @typedef {import('./lengths.js').Unit} Unit */
/** @typedef {[number, number]} Point */
/** @typedef {'width' | 'height'} Side */
/** @typedef {'rectangle' | 'circle' | 'oval' | 'banner' | 'mark'} Shape */
/** @typedef {'straight' | 'fishtail' | 'point' | 'angled'} End */
/**
 * @typedef {object} Element One shape of a layout record.
 * @property {number} id
 * @property {Shape} shape
 * @property {number} x
 * @property {number} y
 * @property {number} width
 * @property {number} height
 * @property {number} [rotation]
 * @property {number} [corner_radius]
 * @property {{left: End, right: End, depth?: number} | null} [ends]
 * @property {string} [kind]
 * @property {string} [role]
 * @property {string | null} [slot]
 * @property {number[]} [mats]
 * @property {boolean} [raised]
 * @property {number} [confidence]
 * @property {{side: Side, size: number, probability: number}[]} [alternatives]
 * @property {Point[]} [outline_px]
 */
/**
 * @typedef {object} Layout The layout record, as the service's schema has it.
 * @property {number} schema
 * @property {string} title
 * @property {Unit} unit
 * @property {{name: string, width: number, height: number, fold?: string}} card
 * @property {Element[]} elements bottom of the stack first
 * @property {string} notes
 * @property {string[]} tags
 * @property {{photo: string, card_corners_px: Point[], warnings: string[], measured?: object[]}} [capture]
 */
/** @typedef {{id: string, width: number, height: number}} Photo */
/**
 * @typedef {object} Draft A layout being worked on.
 * @property {Layout} record
 * @property {Layout | null} saved the record as last saved; null when never
 * @property {string | null} id
 * @property {string | null} etag
 * @property {boolean} kept whether saving takes it along
 * @property {Layout[]} past for undo, oldest first
 * @property {Layout[]} future for redo, next one last
 * @property {Layout | null} read as the reading gave it; null when not known
 * @property {import('./decisions.js').Settled | null} settled as it was last worked out around what was decided; null before
 * @property {string | null} gesture the drag under way: all of it is one step to undo
 * @property {{key: string, record: Layout} | null} waits the save that waits for the service
 */
/**
 * @typedef {object} Work What lies on the table: one photo's drafts, or one saved layout.
 * @property {Photo | null} photo
 * @property {string} card the card name the photo was read for
 * @property {Draft[]} drafts
 * @property {number} at index of the draft that is looked at
 * @property {number[]} chosen ids of the elements that are lit, the last chosen last
 * @property {number | null} near id of the element under the pointer
 * @property {Point[] | null} adding corners placed so far of an element that was missed
 * @property {Point[] | null} corners while they are being placed, in photo pixels
 * @property {number | null} corner index of the corner that is being placed
 * @property {string | null} trouble why the photo was not read
 */
/** @typedef {'x' | 'y' | 'width' | 'height' | 'right' | 'bottom'} Field `right` and `bottom` are the distances to those edges */
/**
 * @typedef {object} Question Something the reading was unsure of.
 * @property {number} element
 * @property {string} text
 * @property {{label: string, side?: Side, size?: number, keep?: boolean}[]} answers
 */

/** Names of a card's corners, in the order of `card_corners_px`. */
export const CORNERS = ['top-left', 'top-right', 'bottom-right', 'bottom-left'];
/** An element less sure than this is asked about: it is as likely wrong as right. */
const UNSURE = 0.5;
/** A piece this many times as long as wide is a strip. */
const STRIP_PROPORTION = 3;
/** Sizes of shapes put on the card by hand, in inches: small enough for any card. @type {Record<Shape, [number, number]>} */
const NEW_SIZES_IN = {rectangle: [2, 2], circle: [1.5, 1.5], oval: [2, 1.5], banner: [2.5, 0.75], mark: [0.25, 0.25]};
/** A photo that was not read starts with corners this far in from its edges. */
const CORNER_INSET = 0.15;
/** Most sizes offered for one doubtful side: more is a riddle, not a question. */
const MOST_ANSWERS = 3;

/**
 * @param {Layout} record
 * @returns {Draft}
 */
function unsaved(record) {
  return {record, saved: null, id: null, etag: null, kept: true, past: [], future: [], read: null, settled: null, gesture: null, waits: null};
}

/** @type {Work} */
const NOTHING = {
  photo: null, card: '', drafts: [], at: 0, chosen: [], near: null, adding: null, corners: null, corner: null, trouble: null,
};
/** What is chosen when nothing is. @type {Pick<Work, 'chosen' | 'near' | 'adding' | 'corners' | 'corner'>} */
const NONE_CHOSEN = {chosen: [], near: null, adding: null, corners: null, corner: null};

/**
 * A photo that was just read.
 * @param {Photo} photo
 * @param {Layout[]} layouts
 * @param {string} card
 * @returns {Work}
 */
export function startWork(photo, layouts, card) {
  return {...NOTHING, photo, card, drafts: layouts.map(justRead)};
}

/** @param {Layout} record @returns {Draft} */
const justRead = (record) => ({...unsaved(record), read: record});

/**
 * A photo that was kept but not read: the person can show where the card is.
 * @param {Photo} photo
 * @param {string} card
 * @param {string} trouble
 * @returns {Work}
 */
export function startTrouble(photo, card, trouble) {
  return {...NOTHING, photo, card, trouble};
}

/**
 * A layout from the notebook.
 * @param {{id: string, etag: string | null, record: Layout}} stored
 * @param {Photo | null} photo
 * @returns {Work}
 */
export function openSaved({id, etag, record}, photo) {
  const draft = {...unsaved(record), saved: record, id, etag};
  return {...NOTHING, photo, card: record.card.name, drafts: [draft]};
}

/**
 * @param {Work | null} work
 * @returns {Draft | null}
 */
export function draftOf(work) {
  return work?.drafts[work.at] ?? null;
}

/** @param {Draft} draft */
export function isChanged(draft) {
  return draft.saved === null || !sameRecord(draft.record, draft.saved);
}

/**
 * @param {Layout} a
 * @param {Layout} b
 */
function sameRecord(a, b) {
  if (a === b) return true;
  // Most elements are the very same: only the others are compared in full.
  const {elements, ...words} = a;
  const {elements: others, ...otherWords} = b;
  return elements.length === others.length
    && elements.every((element, i) => element === others[i] || JSON.stringify(element) === JSON.stringify(others[i]))
    && JSON.stringify(words) === JSON.stringify(otherWords);
}

/**
 * @param {Work} work
 * @param {(draft: Draft) => Draft} change
 * @returns {Work}
 */
function withDraft(work, change) {
  return {...work, drafts: work.drafts.map((draft, i) => (i === work.at ? change(draft) : draft))};
}

/**
 * Puts a new record in place of the one looked at; the old one can be had back.
 * @param {Work} work
 * @param {(record: Layout) => Layout} change
 * @returns {Work}
 */
function edit(work, change) {
  return withDraft(work, (draft) => {
    const record = change(draft.record);
    if (sameRecord(record, draft.record)) return draft;
    return {...draft, record, past: [...draft.past, draft.record], future: [], gesture: null};
  });
}

/**
 * A change by the person: every element it touches is vouched for. All changes
 * of one gesture start from the record as it was before, and are one step to undo.
 * @param {Work} work
 * @param {(record: Layout) => Layout} change
 * @param {string | null} [gesture]
 * @returns {Work}
 */
export function editBy(work, change, gesture = null) {
  return withDraft(work, (draft) => {
    const going = gesture !== null && draft.gesture === gesture;
    const before = going ? /** @type {Layout} */ (draft.past.at(-1)) : draft.record;
    const changed = change(before);
    const elements = changed.elements.map((element) => {
      const old = before.elements.find(({id}) => id === element.id);
      return old === element || (old && JSON.stringify(old) === JSON.stringify(element)) ? old : {...element, confidence: 1};
    });
    const record = {...changed, elements};
    if (going) return {...draft, record};
    if (sameRecord(record, draft.record)) return draft;
    return {...draft, record, past: [...draft.past, draft.record], future: [], gesture};
  });
}

/**
 * The hand lets go. A gesture that came back to where it began was none.
 * @param {Work} work
 * @returns {Work}
 */
export function endGesture(work) {
  return withDraft(work, (draft) => {
    if (draft.gesture === null) return draft;
    const before = /** @type {Layout} */ (draft.past.at(-1));
    if (sameRecord(before, draft.record)) return {...draft, record: before, past: draft.past.slice(0, -1), gesture: null};
    return {...draft, gesture: null};
  });
}

/**
 * Everything as it was before the gesture.
 * @param {Work} work
 * @returns {Work}
 */
export function cancelGesture(work) {
  return withDraft(work, (draft) => {
    if (draft.gesture === null) return draft;
    return {...draft, record: draft.past.at(-1) ?? draft.record, past: draft.past.slice(0, -1), gesture: null};
  });
}

/**
 * @param {Work} work
 * @param {number} id
 * @param {(element: Element, record: Layout) => Element} change
 */
function editElement(work, id, change) {
  return editBy(work, (record) => ({
    ...record,
    elements: record.elements.map((element) => (element.id === id ? change(element, record) : element)),
  }));
}

/**
 * Chooses one element, or none; with `more`, adds it to those chosen or takes it away.
 * @param {Work} work
 * @param {number | null} id
 * @param {boolean} [more]
 * @returns {Work}
 */
export function chooseElement(work, id, more = false) {
  if (id === null) return more || work.chosen.length === 0 ? work : {...work, chosen: []};
  if (!more) return work.chosen.length === 1 && work.chosen[0] === id ? work : {...work, chosen: [id]};
  const others = work.chosen.filter((other) => other !== id);
  return {...work, chosen: others.length < work.chosen.length ? others : [...others, id]};
}

/**
 * Lights the element under the pointer, or none.
 * @param {Work} work
 * @param {number | null} id
 * @returns {Work}
 */
export function passOver(work, id) {
  return work.near === id ? work : {...work, near: id};
}

/**
 * The chosen elements that are still there, bottom of the stack first.
 * @param {Work | null} work
 * @returns {Element[]}
 */
export function chosenOf(work) {
  const record = draftOf(work)?.record;
  return record?.elements.filter(({id}) => work?.chosen.includes(id)) ?? [];
}

/**
 * Corrects one number of an element. A side that was centred on the card stays
 * centred when its size changes; any other keeps its left or top. A circle
 * stays as high as wide. A size the person gave is no longer in doubt.
 * @param {Work} work
 * @param {number} id
 * @param {Field} field
 * @param {number} value on the grid, in the record's unit
 * @returns {Work}
 */
export function correct(work, id, field, value) {
  return editElement(work, id, (element, record) => {
    if (field === 'x' || field === 'y') return {...element, [field]: value};
    if (field === 'right') return {...element, x: record.card.width - element.width - value};
    if (field === 'bottom') return {...element, y: record.card.height - element.height - value};
    /** @type {Side[]} */
    const sides = element.shape === 'circle' ? ['width', 'height'] : [field];
    return sides.reduce((changed, side) => resize(changed, record, side, value), element);
  });
}

/**
 * @param {Element} element
 * @param {Layout} record
 * @param {Side} side
 * @param {number} size
 * @returns {Element}
 */
function resize(element, record, side, size) {
  const start = side === 'width' ? 'x' : 'y';
  const room = record.card[side];
  const centred = element[start] * 2 + element[side] === room;
  const changed = {...element, [side]: size, [start]: centred ? (room - size) / 2 : element[start]};
  if (element.alternatives) {
    changed.alternatives = element.alternatives.filter((other) => other.side !== side);
  }
  const most = Math.min(changed.width, changed.height) / 2;
  if ((changed.corner_radius ?? 0) > most) changed.corner_radius = most;
  return changed;
}

/**
 * What has to be worked out again now that a size is decided: the layout, and
 * what holds in it. Nothing for a layout that was not read just now.
 * @param {Work | null} work
 */
export function toSettle(work) {
  const draft = draftOf(work);
  if (!draft?.read?.capture?.measured?.length) return null;
  const settled = draft.settled ?? {record: draft.read, decided: {sizes: [], places: []}};
  return {record: draft.record, decided: decidedIn(draft.record, settled)};
}

/**
 * The layout worked out again; undo gives it back as it was asked about.
 * @param {Work} work
 * @param {import('./decisions.js').Settled} asked
 * @param {Layout} again
 * @returns {Work}
 */
export function settleWith(work, asked, again) {
  return withDraft(work, (draft) => {
    // The person has gone on meanwhile: the next size decided asks anew.
    if (draft.record !== asked.record) return draft;
    const {record, followed} = followedBy(draft.record, again);
    const settled = {record, decided: asked.decided};
    if (followed.length === 0) return {...draft, record, settled};
    return {...draft, record, settled, past: [...draft.past, draft.record], future: [], gesture: null};
  });
}

/**
 * Settles an element the reading was unsure of: it belongs.
 * @param {Work} work
 * @param {number} id
 */
export function keepElement(work, id) {
  return editElement(work, id, (element) => ({...element, confidence: 1}));
}

/**
 * @param {Work} work
 * @param {number} id
 * @returns {Work}
 */
export function deleteElement(work, id) {
  return deleteElements(work, [id]);
}

/**
 * @param {Work} work
 * @param {number[]} ids
 * @returns {Work}
 */
export function deleteElements(work, ids) {
  const changed = edit(work, (record) => ({
    ...record,
    elements: record.elements.filter(({id}) => !ids.includes(id)),
  }));
  return {...changed, near: null, chosen: changed.chosen.filter((id) => !ids.includes(id))};
}

/**
 * An id that no element of this draft has or had: a new element is never taken
 * for one that was deleted.
 * @param {Work} work
 */
export function freshId(work) {
  const draft = draftOf(work);
  const records = draft ? [draft.record, ...draft.past, ...(draft.read ? [draft.read] : []), ...(draft.saved ? [draft.saved] : [])] : [];
  return records.reduce((most, {elements}) => Math.max(most, ...elements.map(({id}) => id)), 0) + 1;
}

/**
 * A new shape in the middle of the card, on top of the stack, and chosen.
 * @param {Work} work
 * @param {Shape} shape
 * @returns {Work}
 */
export function addShape(work, shape) {
  const record = draftOf(work)?.record;
  if (!record) return work;
  const {unit, card} = record;
  const [wide, high] = NEW_SIZES_IN[shape].map((side) => sized(convert(side, 'in', unit), unit));
  const id = freshId(work);
  /** @type {Element} */
  const element = {
    id, shape, x: placed((card.width - wide) / 2, unit), y: placed((card.height - high) / 2, unit), width: wide, height: high,
    role: shape === 'mark' ? 'embellishment' : shape === 'banner' ? 'sentiment' : 'panel', confidence: 1,
  };
  if (shape === 'banner') element.ends = {left: 'straight', right: 'fishtail'};
  if (shape === 'mark') element.kind = 'dot';
  return {...editBy(work, (now) => ({...now, elements: [...now.elements, element]})), chosen: [id]};
}

/**
 * An element the reading missed, from opposite corners on the photo. It goes on
 * top of the stack, and is chosen so that the rest can be set at once.
 * @param {Work} work
 * @param {[number, number, number, number]} box left, top, right, bottom in photo pixels
 * @returns {Work}
 */
export function addFromPhoto(work, box) {
  const record = draftOf(work)?.record;
  const corners = record?.capture?.card_corners_px;
  if (!record || corners?.length !== 4) return work;
  const {unit, card} = record;
  const [left, top, right, bottom] = box;
  /** @type {Point[]} */
  const outline = [[left, top], [right, top], [right, bottom], [left, bottom]];
  const back = unprojection(card.width, card.height, corners);
  const on = outline.map(back);
  // Half way along each side, so that a tilted photo does not make it larger.
  const sides = [(on[0][0] + on[3][0]) / 2, (on[0][1] + on[1][1]) / 2, (on[1][0] + on[2][0]) / 2, (on[2][1] + on[3][1]) / 2];
  const [width, height] = [sides[2] - sides[0], sides[3] - sides[1]].map((side) => sized(side, unit));
  const id = freshId(work);
  const [x, y] = [placed((sides[0] + sides[2] - width) / 2, unit), placed((sides[1] + sides[3] - height) / 2, unit)];
  const narrow = Math.max(width, height) >= STRIP_PROPORTION * Math.min(width, height);
  /** @type {Element} */
  const element = {id, shape: 'rectangle', x, y, width, height, role: narrow ? 'strip' : 'panel', confidence: 1, outline_px: outline};
  return {...editBy(work, (now) => ({...now, elements: [...now.elements, element]})), chosen: [id], adding: null};
}

/** Starts or ends showing where an element was missed. @param {Work} work @param {Point[] | null} adding @returns {Work} */
export function addingAt(work, adding) {
  return {...work, adding, corners: null, corner: null};
}

/**
 * The same element as another shape. What only the old shape has is dropped;
 * a circle is as wide as its shorter side was, about the same middle.
 * @param {Element} element
 * @param {Shape} shape
 * @returns {Element}
 */
export function reshaped(element, shape) {
  if (element.shape === shape) return element;
  const {kind: _, ends: __, corner_radius: ___, ...rest} = element;
  /** @type {Element} */
  const changed = {...rest, shape};
  if (shape === 'banner') changed.ends = {left: 'straight', right: 'fishtail'};
  if (shape === 'mark') changed.kind = 'dot';
  if (shape === 'circle') {
    const size = Math.min(element.width, element.height);
    Object.assign(changed, {
      x: element.x + (element.width - size) / 2, y: element.y + (element.height - size) / 2, width: size, height: size, rotation: 0,
    });
  }
  return changed;
}

/**
 * Title, notes or tags.
 * @param {Work} work
 * @param {{title?: string, notes?: string, tags?: string[]}} words
 */
export function describe(work, words) {
  return edit(work, (record) => ({...record, ...words}));
}

/**
 * Tags as typed, one comma between two; no empty ones, none twice.
 * @param {string} text
 */
export function parseTags(text) {
  const tags = text.split(',').map((tag) => tag.trim()).filter((tag) => tag !== '');
  return tags.filter((tag, i) => tags.indexOf(tag) === i);
}

/** @param {Work} work */
export function undo(work) {
  return withDraft(work, (draft) => {
    const record = draft.past.at(-1);
    if (!record) return draft;
    return {...draft, record, past: draft.past.slice(0, -1), future: [...draft.future, draft.record], gesture: null};
  });
}

/** @param {Work} work */
export function redo(work) {
  return withDraft(work, (draft) => {
    const record = draft.future.at(-1);
    if (!record) return draft;
    return {...draft, record, past: [...draft.past, draft.record], future: draft.future.slice(0, -1)};
  });
}

/**
 * Looks at another candidate of the page.
 * @param {Work} work
 * @param {number} at
 * @returns {Work}
 */
export function chooseCandidate(work, at) {
  return {...work, ...NONE_CHOSEN, at};
}

/**
 * Keeps or drops a candidate; dropping loses nothing until saving.
 * @param {Work} work
 * @param {number} at
 * @param {boolean} kept
 * @returns {Work}
 */
export function keepCandidate(work, at, kept) {
  return {...work, drafts: work.drafts.map((draft, i) => (i === at ? {...draft, kept} : draft))};
}

/** Drafts that saving takes along, with their places. @param {Work} work */
export function toSave(work) {
  return work.drafts.map((draft, at) => ({draft, at})).filter(({draft}) => draft.kept && isOpen(draft));
}

/** Whether a draft has something that is neither saved nor waiting to be. @param {Draft} draft */
export function isOpen(draft) {
  return isChanged(draft) && !(draft.waits && sameRecord(draft.waits.record, draft.record));
}

/**
 * A draft whose save waits in the browser until the service is back.
 * @param {Work} work
 * @param {number} at
 * @param {string} key
 * @returns {Work}
 */
export function markWaiting(work, at, key) {
  return {...work, drafts: work.drafts.map((draft, i) => (i === at ? {...draft, waits: {key, record: draft.record}} : draft))};
}

/**
 * A draft that the service has answered for. What was typed meanwhile stays.
 * @param {Work} work
 * @param {number} at
 * @param {{id: string, etag: string | null, record: Layout}} stored
 * @param {Layout} sent the record as it was sent
 * @returns {Work}
 */
export function markSaved(work, at, stored, sent) {
  return {
    ...work,
    drafts: work.drafts.map((draft, i) => {
      if (i !== at) return draft;
      const untouched = sameRecord(draft.record, sent);
      return {
        ...draft,
        id: stored.id,
        etag: stored.etag,
        saved: stored.record,
        record: untouched ? stored.record : draft.record,
        waits: null,
      };
    }),
  };
}

/**
 * Takes the saved layout after a save was refused as stale. The person's own
 * version is one undo away.
 * @param {Work} work
 * @param {{id: string, etag: string | null, record: Layout}} stored
 * @returns {Work}
 */
export function takeTheirs(work, stored) {
  return withDraft(work, (draft) => ({
    ...draft,
    etag: stored.etag,
    saved: stored.record,
    record: stored.record,
    past: [...draft.past, draft.record],
    future: [],
    waits: null,
  }));
}

/**
 * Two versions brought together, on top of the one that was saved elsewhere.
 * @param {Work} work
 * @param {{id: string, etag: string | null, record: Layout}} stored
 * @param {Layout} record
 * @returns {Work}
 */
export function takeMerged(work, stored, record) {
  const changed = edit(work, () => record);
  return withDraft(changed, (draft) => ({...draft, etag: stored.etag, saved: stored.record, waits: null}));
}

/**
 * The same layout as a new one, not saved yet.
 * @param {Layout} record
 * @returns {Layout}
 */
export function copyOf(record) {
  const title = record.title.trim();
  return {...record, title: title === '' ? 'Copy' : `${title} (copy)`};
}

/**
 * Starts placing the card's corners: where they were found, else well inside the photo.
 * @param {Work} work
 * @returns {Work}
 */
export function startCorners(work) {
  if (!work.photo) return work;
  const {width, height} = work.photo;
  const [dx, dy] = [width * CORNER_INSET, height * CORNER_INSET];
  const found = draftOf(work)?.record.capture?.card_corners_px;
  /** @type {Point[]} */
  const inside = [[dx, dy], [width - dx, dy], [width - dx, height - dy], [dx, height - dy]];
  return {...work, corners: found?.length === 4 ? found : inside, corner: null, adding: null};
}

/**
 * @param {Work} work
 * @returns {Work}
 */
export function stopCorners(work) {
  return {...work, corners: null, corner: null};
}

/**
 * Takes up the corner to place next, or none.
 * @param {Work} work
 * @param {number | null} corner
 * @returns {Work}
 */
export function chooseCorner(work, corner) {
  return {...work, corner};
}

/**
 * Puts a corner somewhere on the photo; it cannot leave the photo.
 * @param {Work} work
 * @param {number} corner
 * @param {Point} to in photo pixels
 * @returns {Work}
 */
export function moveCorner(work, corner, [x, y]) {
  if (!work.corners || !work.photo) return work;
  const {width, height} = work.photo;
  /** @type {Point} */
  const inside = [Math.min(Math.max(x, 0), width), Math.min(Math.max(y, 0), height)];
  return {...work, corners: work.corners.map((old, i) => (i === corner ? inside : old))};
}

/**
 * Whether four corners, in order, go once round a card the right way: no side
 * crosses another and none of the turns is flat.
 * @param {Point[]} corners
 */
export function cornersMakeACard(corners) {
  return corners.every((here, i) => {
    const next = corners[(i + 1) % 4];
    const after = corners[(i + 2) % 4];
    const turn = (next[0] - here[0]) * (after[1] - next[1]) - (next[1] - here[1]) * (after[0] - next[0]);
    return turn > 1;
  });
}

/**
 * A further reading that failed: what was there stays, corners and all.
 * @param {Work} work
 * @param {string} trouble
 * @returns {Work}
 */
export function stillTrouble(work, trouble) {
  return {...work, trouble};
}

/**
 * Whether something the person did would be lost with this work.
 * @param {Work | null} work
 */
export function isEdited(work) {
  return work?.drafts.some((draft) => draft.past.length > 0 && isOpen(draft)) ?? false;
}

/**
 * A second reading of one card. The words the person gave stay, and so does
 * every element they had put right; the earlier record is one undo away.
 * @param {Work} work
 * @param {Layout} layout
 * @returns {Work}
 */
export function readAgain(work, layout) {
  const done = {...work, ...NONE_CHOSEN, trouble: null};
  if (!draftOf(work)) return {...done, drafts: [justRead(layout)], at: 0};
  return withDraft(done, (draft) => rereadDraft(draft, layout));
}

/**
 * A second reading of a whole photo: each card goes on from its first reading,
 * wherever that lay. A card that is found no more stays if the person did
 * something to it.
 * @param {Work} work
 * @param {Layout[]} layouts
 * @returns {Work}
 */
export function readAllAgain(work, layouts) {
  const from = continued(work.drafts, layouts);
  const drafts = layouts.map((layout, i) => {
    const at = from[i];
    return at === null ? justRead(layout) : rereadDraft(work.drafts[at], layout);
  });
  const left = work.drafts.filter((draft, i) => !from.includes(i) && (draft.id !== null || draft.past.length > 0));
  return {...work, ...NONE_CHOSEN, drafts: [...drafts, ...left], at: Math.max(0, from.indexOf(work.at)), trouble: null};
}

/**
 * @param {Draft} draft
 * @param {Layout} layout
 * @returns {Draft}
 */
function rereadDraft(draft, layout) {
  const {record} = mergedReading(draft.record, draft.read, layout);
  if (sameRecord(record, draft.record)) return {...draft, read: layout, settled: null};
  return {...draft, record, read: layout, settled: null, past: [...draft.past, draft.record], future: [], gesture: null};
}

/**
 * How the reading first had it, found again for a layout from the notebook.
 * @param {Work} work
 * @param {Layout[]} layouts
 * @returns {Work}
 */
export function knownReading(work, layouts) {
  return withDraft(work, (draft) => {
    const at = continued([draft], layouts).indexOf(0);
    return at < 0 ? draft : {...draft, read: layouts[at]};
  });
}

/**
 * What to call an element, by what it is for and what it looks like.
 * @param {Element} element
 */
export function kindName(element) {
  switch (element.shape) {
    case 'circle': return 'Circle';
    case 'oval': return 'Oval';
    case 'banner': return 'Banner';
    case 'mark': {
      const kind = element.kind && element.kind !== 'other' ? element.kind : 'mark';
      return kind[0].toUpperCase() + kind.slice(1);
    }
    default: break;
  }
  switch (element.role) {
    case 'background': return 'Background';
    case 'mat': return 'Mat';
    case 'strip': return 'Strip';
    case 'sentiment': return 'Sentiment';
    case 'embellishment': return 'Small piece';
    default: return 'Panel';
  }
}

/**
 * The element's place in the stack and its name: `2 Strip`.
 * @param {Layout} record
 * @param {Element} element
 */
export function elementName(record, element) {
  return `${record.elements.indexOf(element) + 1} ${kindName(element)}`;
}

/**
 * `4 x 5 1/4`, or one number when both sides agree.
 * @param {Element} element
 * @param {Unit} unit
 */
export function sizeText(element, unit) {
  const width = showLength(element.width, unit);
  return element.width === element.height ? width : `${width} x ${showLength(element.height, unit)}`;
}

/**
 * What an element is beside its kind, size and place: `paper C, mat 1/8, raised`.
 * @param {Element} element
 * @param {Unit} unit
 */
export function factsText({slot, mats = [], raised, rotation, corner_radius: radius, ends}, unit) {
  return [
    slot && `paper ${slot}`,
    mats.length > 0 && `${mats.length === 1 ? 'mat' : 'mats'} ${mats.map((mat) => showLength(mat, unit)).join(' and ')}`,
    radius && `corners ${showLength(radius, unit)}`,
    ends && (ends.left === ends.right ? `${ends.left} ends` : `${ends.left} and ${ends.right} ends`),
    rotation && `turned ${Number(rotation.toFixed(1))}°`,
    raised && 'raised',
  ].filter(Boolean).join(', ');
}

/**
 * What a layout is called, titled or not.
 * @param {{title?: string, card?: {name?: string}}} record
 */
export function titleOf(record) {
  return record.title?.trim() || `Untitled ${record.card?.name ?? ''}`.trim();
}

/**
 * `A2, 4 1/4 x 5 1/2`.
 * @param {{card: {name: string, width: number, height: number}, unit: Unit}} record
 */
export function cardText({card, unit}) {
  const size = `${showLength(card.width, unit)} x ${showLength(card.height, unit)}`;
  return card.name ? `${card.name}, ${size}` : size;
}

/**
 * Everything the reading was unsure of, as questions a tap can answer.
 * @param {Layout} record
 * @returns {Question[]}
 */
export function questionsOf(record) {
  return record.elements.flatMap((element) => {
    const name = elementName(record, element);
    /** @type {Question[]} */
    const questions = [];
    if ((element.confidence ?? 1) < UNSURE) {
      questions.push({
        element: element.id,
        text: `${name} is faint on the photo. Does it belong?`,
        answers: [{label: 'Keep it', keep: true}, {label: 'Delete it', keep: false}],
      });
    }
    /** @type {Side[]} */
    const sides = element.shape === 'circle' ? ['width'] : ['width', 'height'];
    for (const side of sides) {
      const others = (element.alternatives ?? [])
        .filter((other) => other.side === side && other.size !== element[side])
        .sort((a, b) => b.probability - a.probability)
        .slice(0, MOST_ANSWERS - 1)
        .map((other) => other.size);
      if (others.length === 0) continue;
      const sizes = [element[side], ...others].sort((a, b) => a - b);
      const words = sizes.map((size) => showLength(size, record.unit));
      const way = element.shape === 'circle' ? 'across' : side === 'width' ? 'wide' : 'high';
      questions.push({
        element: element.id,
        text: `${name}: ${words.slice(0, -1).join(', ')} or ${words.at(-1)} ${way}?`,
        answers: sizes.map((size, i) => ({label: words[i], side, size})),
      });
    }
    return questions;
  });
}

/**
 * How a number of things is said: `1 element`, `3 elements`.
 * @param {number} count
 * @param {string} thing
 */
export const counted = (count, thing) => `${count} ${thing}${count === 1 ? '' : 's'}`;
