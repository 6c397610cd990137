import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { pino } from 'pino';
import { firstKey, type RunningService, startService } from '../src/service.js';
import { hours, ShiftClock } from './agenda.js';
import { readFigures } from './figures.js';
import { Floor } from './floor.js';
import { furnishPlant } from './plant.js';
import { makeProgress, shiftNote } from './progress.js';
import { SHIFT_MS, workShift } from './shift.js';
import { hireStaff } from './staff.js';
import { fillRacks } from './stock.js';
import { motorToTellOf, storyOf } from './story.js';
import { summaryOf } from './summary.js';
import { welcomeTo } from './welcome.js';

const HOST = '127.0.0.1';
const PORT = 8440;
/** Catalogue and racks are loaded before the shift begins. */
const LOADING_MS = hours(2);

const CAUTION =
  'All of this is invented: plant, models, limits and figures. None of it is for testing a real engine.';

async function main(): Promise<void> {
  const { values } = parseArgs({ options: { exit: { type: 'boolean', default: false } } });
  const folder = mkdtempSync(join(tmpdir(), 'skeg-demo-'));
  const clock = new ShiftClock(Date.now() - SHIFT_MS - LOADING_MS);
  const service = await start(join(folder, 'skeg.db'), clock);
  const stop = async (): Promise<void> => {
    await service.stop();
    rmSync(folder, { recursive: true, force: true });
  };
  const signals = stopOnSignals(stop);
  try {
    await showShift(service, clock, values.exit);
  } catch (error) {
    // Whoever stops the demo in the middle of the shift breaks its requests off.
    if (signals.isStopping) return;
    await stop();
    throw error;
  }
  if (values.exit) await stop();
}

async function start(path: string, clock: ShiftClock): Promise<RunningService> {
  return startService({
    path,
    host: HOST,
    port: (await isFree(PORT)) ? PORT : 0,
    settings: {
      timeZone: 'UTC',
      serialFormat: { prefix: 'TB', digits: 5, withYear: true },
    },
    clock: clock.read,
    log: pino({ level: 'error', base: null }, pino.destination(2)),
  });
}

async function showShift(
  service: RunningService,
  clock: ShiftClock,
  isExiting: boolean,
): Promise<void> {
  const progress = makeProgress(process.stdout);
  const staff = await hireStaff(service.address, await adminToken(service, clock));
  await furnishPlant(staff, clock.read());
  const floor = new Floor();
  progress.begin('Racks', 100);
  await fillRacks(staff, floor, clock, (done, of) =>
    progress.step((100 * done) / of, `${done} of ${of} halves and spare parts entered`),
  );
  progress.end();

  clock.advanceTo(Date.now() - SHIFT_MS);
  const startMs = clock.read();
  progress.begin('Shift', SHIFT_MS);
  await workShift(staff, floor, clock, (elapsedMs) =>
    progress.step(elapsedMs, shiftNote(floor, clock.read())),
  );
  progress.end();
  const endMs = clock.read();
  clock.becomeReal();

  const figures = await readFigures(staff.reader);
  const motor = motorToTellOf(figures);
  console.log(summaryOf(figures, startMs, endMs));
  console.log(await storyOf(staff.reader, motor));
  if (!isExiting) console.log(await welcomeTo(staff, motor));
  console.log(`\n${CAUTION}`);
}

async function adminToken(service: RunningService, clock: ShiftClock): Promise<string> {
  const token = await firstKey(service.store, clock.read());
  if (token === undefined) throw new Error('the fresh database has keys already');
  return token;
}

/** Whether nobody listens on a port of this machine yet. */
function isFree(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const probe = createServer();
    probe.once('error', () => resolve(false));
    probe.listen(port, HOST, () => probe.close(() => resolve(true)));
  });
}

/** The first signal stops in order; further ones wait for that. */
function stopOnSignals(stop: () => Promise<void>): { isStopping: boolean } {
  const state = { isStopping: false };
  const onSignal = (): void => {
    if (state.isStopping) return;
    state.isStopping = true;
    stop().then(
      () => process.exit(0),
      (error: unknown) => {
        console.error(error);
        process.exit(1);
      },
    );
  };
  process.on('SIGINT', onSignal);
  process.on('SIGTERM', onSignal);
  return state;
}

main().catch((error: unknown) => {
  console.error(error);
  process.exit(1);
});
