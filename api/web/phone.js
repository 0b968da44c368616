// The screen for phones: how one comes in, and which have.

import {ask, make, makeSvg, setText, show} from './dom.js';
import {clockWords, dayWords, endedWords, qrDrawing, seenWords} from './phone-logic.js';
import {messageLine, renew} from './screen-parts.js';

/** @typedef {import('./actions.js').Part} Part */
/** @typedef {import('./phone-logic.js').Standing} Standing */

/** The clock of the code ticks this often, in ms. */
const TICK_MS = 500;

/**
 * @param {HTMLElement} place
 * @returns {Part}
 */
export function mount(place) {
  const message = messageLine();
  const elsewhere = make('div', {className: 'paper'},
    make('h2', {}, 'This device is not the computer itself'),
    make('p', {}, 'Phones are paired at the computer that keeps the notebook: open its page there. Photos for the notebook are taken with the scanner.'),
    make('div', {className: 'row'}, make('a', {className: 'button strong', href: '/scan'}, 'Open the scanner')));
  const closed = make('div', {className: 'paper'},
    make('h2', {}, 'Only this computer can open the notebook now'),
    make('p', {}, 'To use a phone on the same network as the scanner, stop eighths with Ctrl-C and start it with:'),
    make('pre', {}, make('code', {}, 'eighths serve --lan')),
    make('p', {className: 'help'}, 'From the source: cargo run --release -- serve --lan. Each phone still needs a code that only this page and the terminal show.'));
  const code = codePart(place);
  const devices = devicesPart(place);
  place.append(make('div', {className: 'screen'},
    make('a', {className: 'back', href: '#/'}, make('span', {'aria-hidden': 'true'}, '←'), ' Your layouts'),
    make('h1', {id: 'phone-heading', tabIndex: -1}, 'Use a phone as the scanner'),
    message.line, elsewhere, closed, make('div', {className: 'phone-bench'}, code.root, devices.root)));
  return {
    update(state) {
      show(place, state.view === 'phone');
      const {phone} = state;
      message.update(state.message);
      const standing = phone?.standing ?? null;
      show(elsewhere, phone?.elsewhere === true);
      show(closed, standing !== null && !standing.network);
      show(code.root, standing !== null && standing.network);
      show(devices.root, standing !== null && (standing.network || standing.devices.length > 0));
      if (!phone || !standing) return;
      code.update(standing, phone.ends, state.busy !== null);
      devices.update(standing);
    },
  };
}

/** @param {HTMLElement} place */
function codePart(place) {
  const picture = make('div', {className: 'qr-place'});
  const digits = make('p', {className: 'code-digits', id: 'code-digits'});
  const clock = make('span', {className: 'code-clock'});
  const left = make('p', {}, 'Valid once, for ', clock);
  const tries = make('p', {className: 'trouble'});
  const valid = make('div', {className: 'code-valid'}, picture,
    make('div', {className: 'code-words'},
      make('p', {}, 'Point the phone’s camera at the square and open the address it shows.'),
      make('p', {}, 'Or open ', make('b', {className: 'code-url'}), ' on the phone and enter'),
      digits, left, tries));
  const url = /** @type {HTMLElement} */ (valid.querySelector('.code-url'));
  const others = make('p', {className: 'help'});
  const ended = make('p', {});
  const lost = make('p', {className: 'trouble'}, 'This computer is on no network now. Connect it to the one the phone is on.');
  const renewal = make('button', {type: 'button', id: 'new-code', className: 'button', onclick: () => ask(place, 'new-code')}, 'New code');
  const root = make('section', {className: 'paper', 'aria-labelledby': 'pair-heading'},
    make('h2', {id: 'pair-heading'}, 'Pair a phone'), lost, valid, ended, make('div', {className: 'row'}, renewal), others,
    make('p', {className: 'help'}, 'The phone has to be on the same network. On a network that others use too, such as a café’s, what the phone sends can be read by them: there is no encryption.'));

  let ends = 0;
  setInterval(() => {
    if (!valid.hidden && !place.hidden) setText(clock, clockWords((ends - Date.now()) / 1000));
  }, TICK_MS);
  let shown = '';
  return {
    root,
    /** @param {Standing} standing @param {number} until @param {boolean} busy */
    update(standing, until, busy) {
      ends = until;
      const first = standing.addresses[0];
      show(lost, first === undefined);
      show(valid, standing.code !== null && first !== undefined);
      show(ended, standing.code === null);
      setText(ended, standing.code === null ? endedWords(standing.ended) : '');
      setText(renewal, standing.code ? 'New code' : 'Make a code');
      renewal.classList.toggle('strong', standing.code === null);
      renewal.setAttribute('aria-disabled', String(busy));
      setText(url, first?.url ?? '');
      setText(digits, standing.code?.digits ?? '');
      setText(clock, clockWords((ends - Date.now()) / 1000));
      const wrong = standing.code !== null && standing.code.tries_left < 5;
      show(tries, wrong);
      setText(tries, wrong ? `A wrong code was entered. Tries left: ${standing.code?.tries_left}.` : '');
      const more = standing.addresses.slice(1).map((address) => address.url);
      show(others, more.length > 0);
      setText(others, more.length > 0 ? `If that address does not answer: ${more.join(', ')}` : '');
      const path = first?.qr?.path ?? '';
      if (path === shown) return;
      shown = path;
      picture.replaceChildren(...(first?.qr ? [makeSvg(qrDrawing(first.qr))] : []));
    },
  };
}

/** @param {HTMLElement} place */
function devicesPart(place) {
  const none = make('p', {}, 'None yet.');
  const list = make('ul', {className: 'devices', role: 'list'});
  const root = make('section', {className: 'paper', 'aria-labelledby': 'devices-heading'},
    make('h2', {id: 'devices-heading', tabIndex: -1}, 'Paired devices'), none, list,
    make('p', {className: 'help'}, 'A paired device can do all that this page can, but pair others. Is one lost or given away? End its pairing: it is out at once.'));
  let shown = '';
  return {
    root,
    /** @param {Standing} standing */
    update({devices}) {
      const now = new Date();
      show(none, devices.length === 0);
      show(list, devices.length > 0);
      const items = devices.map((device) => ({
        device, facts: `Paired on ${dayWords(new Date(device.paired_at))}, here last ${seenWords(device.seen_at, now)}`,
      }));
      const key = JSON.stringify(items);
      if (key === shown) return;
      shown = key;
      renew(list, items.map(({device, facts}) => make('li', {className: 'device'},
        make('div', {}, make('h3', {}, device.name), make('p', {className: 'help'}, facts)),
        make('button', {
          type: 'button', id: `end-pairing-${device.id}`, className: 'button danger', 'aria-label': `End pairing of ${device.name}`,
          onclick: () => ask(place, 'end-pairing', {device}),
        }, 'End pairing'))));
    },
  };
}
