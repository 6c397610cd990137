import { Agenda, hours, minutes, type Process, type ShiftClock } from './agenda.js';
import { Technician, tearOneDown } from './bench.js';
import { TestCell } from './cells.js';
import { seedText } from './files.js';
import type { Floor } from './floor.js';
import { approveDrafts } from './plant.js';
import { abortOrphans, decideFailures, holdOne, releaseBatch, releasePassed } from './quality.js';
import type { Staff } from './staff.js';
import { setStations } from './stations.js';

export const SHIFT_MS = hours(8);

/** Cells with instruments in other units, and those that die: when, and what becomes of their run. */
const OLDER_CELLS = ['CELL-03', 'CELL-09'];
const DEATHS = [
  { cell: 'CELL-05', afterMs: hours(2.9), runIs: 'taken-over' },
  { cell: 'CELL-11', afterMs: hours(5.3), runIs: 'aborted' },
] as const;

/** Lets the plant work for one shift, through the API alone. */
export async function workShift(
  staff: Staff,
  floor: Floor,
  clock: ShiftClock,
  looked: (elapsedMs: number) => void,
): Promise<void> {
  const startMs = clock.read();
  const agenda = new Agenda(clock);
  startStations(agenda, staff, floor);
  startCells(agenda, staff, floor, startMs);
  for (const [number, caller] of staff.technicians.entries()) {
    agenda.start(new Technician(caller, floor, number).work(), minutes(20));
  }
  startQuality(agenda, staff, floor);
  startOffice(agenda, staff, startMs);
  await agenda.runUntil(startMs + SHIFT_MS, () => looked(clock.read() - startMs));
  await releaseBatch(staff.quality, floor);
}

function startStations(agenda: Agenda, staff: Staff, floor: Floor): void {
  for (const [number, station] of setStations(staff.stations, floor).entries()) {
    agenda.start(station.work(), minutes(number * 1.2));
  }
}

function startCells(agenda: Agenda, staff: Staff, floor: Floor, startMs: number): void {
  for (const [number, caller] of staff.cells.entries()) {
    const death = DEATHS.find((one) => one.cell === caller.name);
    const cell = new TestCell(caller, floor, agenda, {
      number,
      startMs,
      isOlder: OLDER_CELLS.includes(caller.name),
      death: death && { atMs: startMs + death.afterMs, runIs: death.runIs },
    });
    agenda.start(cell.work(), minutes(4));
  }
}

function startQuality(agenda: Agenda, { quality, technicians }: Staff, floor: Floor): void {
  agenda.start(decideFailures(quality, floor), minutes(15));
  agenda.start(releasePassed(quality, floor), minutes(30));
  agenda.start(abortOrphans(quality, floor));
  agenda.start(holdOne(quality, 'Gear oil sample sent to the laboratory.', hours(1.5)), hours(1.2));
  agenda.start(holdOne(quality, 'Serial plate scratched: a new one is ordered.'), hours(6.1));
  const [technician] = technicians;
  if (technician) agenda.start(tearOneDown(technician, floor), hours(2.3));
}

/** What the office does during the shift: it closes an order and supersedes a configuration. */
function startOffice(agenda: Agenda, staff: Staff, startMs: number): void {
  agenda.start(closeOrder(staff), hours(0.6));
  agenda.start(supersedeConfiguration(staff, startMs), hours(0.7));
}

async function* closeOrder({ owner }: Staff): Process {
  yield minutes(1);
  await owner.tell('/v1/orders/TB-4112/closure', { reason: 'The customer withdrew it.' });
}

/** Drafted by one owner, approved by the other, in force from the middle of the shift on. */
async function* supersedeConfiguration(staff: Staff, startMs: number): Process {
  await staff.owner.tellCsv('/v1/configurations/import', seedText('configurations-mid-shift.csv'));
  yield minutes(25);
  await approveDrafts(staff.secondOwner, '/v1/configurations', startMs + hours(4));
}
