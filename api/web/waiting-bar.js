// Says what is waiting: saves while the service is away, and photos still to be read.

import {ask, make, setText, show} from './dom.js';
import {counted, titleOf} from './logic.js';

/** @typedef {import('./actions.js').Part} Part */

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const saveWords = make('p', {});
  const open = make('a', {className: 'button', href: '#/'}, 'Look and choose');
  const again = make('button', {type: 'button', className: 'button', onclick: () => ask(place, 'send-waiting')}, 'Try now');
  const saves = make('div', {className: 'waiting-bar', role: 'group', 'aria-label': 'Saves that wait'}, saveWords, open, again);
  const photoWords = make('p', {});
  const photos = make('div', {className: 'waiting-bar', role: 'group', 'aria-label': 'Photos that wait'}, photoWords,
    make('button', {type: 'button', className: 'button', id: 'next-photo', onclick: () => ask(place, 'next-photo')}, 'Next photo'),
    make('button', {type: 'button', className: 'button quiet', onclick: () => ask(place, 'forget-photos')}, 'Leave them out'));
  place.append(saves, photos);
  const next = /** @type {HTMLButtonElement} */ (photos.querySelector('#next-photo'));
  return {
    update({outbox, queue, busy, work}) {
      show(saves, outbox.length > 0);
      const stale = outbox.find((save) => save.stale);
      const faulty = outbox.find((save) => save.fault);
      setText(saveWords, stale
        ? `“${titleOf(stale.record)}” was also changed somewhere else. Both versions are kept until you choose.`
        : faulty
          ? `“${titleOf(faulty.record)}” was not taken: ${faulty.fault}`
          : `The service is away. ${counted(outbox.length, 'save')} ${outbox.length === 1 ? 'waits' : 'wait'} in this browser and ${outbox.length === 1 ? 'is' : 'are'} sent when it is back.`);
      show(open, stale !== undefined);
      if (stale?.id) open.href = `#/layouts/${encodeURIComponent(stale.id)}`;
      show(again, stale === undefined);

      show(photos, queue.length > 0);
      const names = queue.map(({name}) => name).slice(0, 3).join(', ') + (queue.length > 3 ? ' …' : '');
      setText(photoWords, `${counted(queue.length, 'more photo')}: ${names}. ${queue.length === 1 ? 'It is opened when this one is saved.' : 'They are opened one after another as you save.'}`);
      next.disabled = busy !== null;
      show(next, work === null);
    },
  };
}
