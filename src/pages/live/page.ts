import { z } from 'zod';
import { html } from '../../http/html.js';
import { code } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { Problem } from '../../problems.js';
import { serialLink, tableOf } from '../parts.js';
import { type Screen, screen, type View, type Viewing } from '../screen.js';
import { boardOf } from './board.js';
import { liveFigures, type WaitingState, waitingStates } from './figures.js';

const MOTORS_SHOWN = 500;
const shared = { name: 'live', roles: 'any', startFor: [] } as const;

/** What goes on now; the stream keeps it up to date, and without scripts it can be reloaded. */
export const live: readonly Screen[] = [
  screen({ ...shared, path: '/live', show: (plant, _input, viewing) => liveView(plant, viewing) }),
  screen({
    ...shared,
    path: '/live/{state}',
    params: z.strictObject({ state: code }),
    show: (plant, { params }, viewing) => {
      const state = waitingStates.find((one) => one === params.state);
      if (!state) throw new Problem('route-unknown', viewing.words.live.noPage);
      return stateView(plant, state, viewing);
    },
  }),
];

function liveView(plant: Plant, viewing: Viewing): View {
  const { words, now, settings } = viewing;
  const board = boardOf(liveFigures(plant, now, settings), viewing);
  return {
    title: words.live.title,
    wide: true,
    main: html`${board['live-day']}
<p class="soft" id="live-connection">${words.live.connection.asking}</p>
<p class="visually-hidden" role="status" id="live-announcement"></p>
${board['live-today']}${board['live-waiting']}
<div class="columns broad">${board['live-holds']}${board['live-signals']}</div>
${board['live-places']}`,
  };
}

/** The motors in a state, those that were set last first. */
function stateView(plant: Plant, state: WaitingState, { words }: Viewing): View {
  const own = words.live;
  const motors = plant.units.latestMotorsIn(state, MOTORS_SHOWN);
  const table = tableOf(
    own.inState[state],
    [
      { title: own.motor, cell: (one) => serialLink(one.serial, 'motor') },
      { title: own.model, cell: (one) => one.model },
      { title: own.onHold, cell: (one) => (one.openHolds > 0 ? own.yes : own.no) },
    ],
    motors,
    own.noMotors,
  );
  const cut = motors.length < MOTORS_SHOWN ? null : html`<p>${own.listed(motors.length)}</p>`;
  return {
    title: own.inState[state],
    main: html`<p><a href="/live">${own.back}</a></p><section class="panel">${cut}${table}</section>`,
  };
}
