import { minutes, type Process } from './agenda.js';
import type { Caller, Outcome } from './caller.js';
import type { Floor, RepairJob } from './floor.js';

const STATION = 'QUALITY';
const RELEASE_BATCH = 25;

/** Decides what the bench may not: a test without repair, a concession, a scrap. */
export async function* decideFailures(quality: Caller, floor: Floor): Process {
  for (;;) {
    const job = floor.toDecide.shift();
    if (!job) {
      yield minutes(1);
      continue;
    }
    yield minutes(12);
    await decide(quality, floor, job);
  }
}

async function decide(quality: Caller, floor: Floor, { motor, remedy }: RepairJob): Promise<void> {
  if (remedy.kind === 'adjust' || remedy.kind === 'exchange') return;
  const { kind, reason } = remedy;
  if (kind === 'retest') {
    await quality.tell('/v1/retests', { motor: motor.serial, reason, station: STATION });
    motor.fault = null;
    floor.toTest.push(motor);
    return;
  }
  const body = { class: 'motor', unit: motor.serial, kind, reason, station: STATION };
  await quality.tell('/v1/dispositions', body);
}

interface Passed {
  items: { serial: string; onHold: boolean }[];
}

/** Sends passed motors to shipping in batches, every so often. */
export async function* releasePassed(quality: Caller, floor: Floor): Process {
  for (;;) {
    yield minutes(20);
    await releaseBatch(quality, floor);
  }
}

/** One batch: what the gate stops is left out, and the rest is sent again. */
export async function releaseBatch(quality: Caller, floor: Floor): Promise<void> {
  const path = `/v1/units?class=motor&state=passed&limit=${RELEASE_BATCH}`;
  const passed = (await quality.ask<Passed>(path)).items.map((motor) => motor.serial);
  if (passed.length === 0) return;
  const first = await release(quality, passed);
  const stopped = first.done
    ? []
    : (first.problem.motors as { motor: string }[]).map((one) => one.motor);
  const rest = passed.filter((serial) => !stopped.includes(serial));
  if (!first.done && rest.length > 0) {
    const second = await release(quality, rest);
    if (!second.done) throw new Error(`the gate stopped a batch twice: ${second.problem.detail}`);
  }
  floor.counts.released += rest.length;
}

function release(quality: Caller, motors: string[]): Promise<Outcome<unknown>> {
  return quality.attempt('/v1/releases', { motors, station: 'SHIPPING' });
}

/** Holds the passed motor that waits longest, and lifts the hold after a while, or leaves it. */
export async function* holdOne(quality: Caller, reason: string, liftAfterMs?: number): Process {
  let motor: string | undefined;
  while (motor === undefined) {
    yield minutes(1);
    const passed = await quality.ask<Passed>('/v1/units?class=motor&state=passed&limit=5');
    motor = passed.items.find((one) => !one.onHold)?.serial;
  }
  const hold = await quality.tell<{ id: number }>('/v1/holds', {
    class: 'motor',
    unit: motor,
    cause: 'quality',
    reason,
    station: STATION,
  });
  if (liftAfterMs === undefined) return;
  yield liftAfterMs;
  await quality.tell(`/v1/holds/${hold.id}/lift`, { reason: 'The laboratory found nothing.' });
}

/** Aborts the run of a cell that died where no other cell may take it over. */
export async function* abortOrphans(quality: Caller, floor: Floor): Process {
  for (;;) {
    yield minutes(1);
    const orphan = floor.orphansToAbort.shift();
    if (!orphan) continue;
    yield minutes(8);
    await quality.tell(`/v1/runs/${orphan.run}/abort`, {
      reason: `${orphan.cell} died in the run and its exhaust extraction is in doubt`,
    });
    floor.toTest.unshift(orphan.motor);
  }
}
