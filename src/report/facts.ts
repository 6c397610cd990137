import type { z } from 'zod';
import type { ModelRow } from '../catalogue/records.js';
import { existingSpecification } from '../catalogue/specification-actions.js';
import type { SpecificationRow } from '../catalogue/specification-records.js';
import { type ContainedInWords, containedUnit } from '../containment/questions.js';
import { historyOf, TIMELINE_LIMIT } from '../genealogy/history.js';
import { NOW_AND_ON } from '../genealogy/records.js';
import type { historyShape } from '../genealogy/schema.js';
import type { Plant } from '../plant.js';
import { unpackReadings } from '../testing/packing.js';
import type { Reading } from '../testing/rules.js';
import { iso } from '../time.js';
import { nameOfClass } from '../units/rules.js';

export type History = z.input<typeof historyShape>;
export type Run = History['runs'][number];

export interface ReportQuery {
  serial: string;
  class?: string | undefined;
  asOf?: number | undefined;
}

/** A set with the serials that it joined; a repair may have exchanged them since. */
export type SetFact = History['sets'][number] & { powerhead: string; lowerUnit: string };

export interface RunFact {
  run: Run;
  specification: SpecificationRow;
  /** How many readings the cell posted by then, over all batches. */
  posted: number;
  /** The last one of each characteristic, as posted. */
  last: ReadonlyMap<string, Reading>;
}

export interface ContainmentFact {
  id: number;
  title: string;
  openedAt: string;
  openedBy: string;
  unit: ContainedInWords;
}

/** The state of the journal that a report rests on. */
export interface Basis {
  events: number;
  /** Hash of the last event, hexadecimal; empty for an empty journal. */
  hash: string;
}

export interface Facts {
  history: History;
  model: ModelRow | undefined;
  /** What a part number and revision is called; undefined where the catalogue has none. */
  nameOfPart: (part: string | null, revision: string | null) => string | undefined;
  /** What the catalogue calls a class. */
  nameOfClass: (unitClass: string) => string;
  sets: SetFact[];
  runs: RunFact[];
  containments: ContainmentFact[];
  /** Serials of the unit, of what was in it or in its motor, and of what it was in. */
  related: ReadonlySet<string>;
  basis: Basis;
}

/**
 * Everything that a report of one serial says, from one state of the journal.
 * @throws Problem scan-unreadable, serial-unknown, serial-ambiguous, wrong-class, scan-part-mismatch
 */
export function factsOf(plant: Plant, query: ReportQuery, now: number): Facts {
  const history = historyOf(plant, query, now);
  const asOfMs = query.asOf ?? NOW_AND_ON;
  const last = plant.journal.last();
  const modelCode = history.tree[0]?.model ?? null;
  const classes = new Map(plant.catalogue.classes().map(({ code, name }) => [code, name]));
  return {
    history,
    model: modelCode === null ? undefined : plant.catalogue.model(modelCode),
    nameOfPart: (part, revision) =>
      part === null || revision === null ? undefined : plant.catalogue.part(part, revision)?.name,
    nameOfClass: (unitClass) => classes.get(unitClass) ?? nameOfClass(unitClass),
    sets: history.sets.map((set) => withHalves(plant, set)),
    runs: history.runs.map((run) => runFact(plant, run, asOfMs)),
    containments: containmentsOf(plant, history, asOfMs),
    related: relatedOf(plant, history, asOfMs),
    // Events are numbered from 1 without a gap, so the last number is their count.
    basis: { events: last?.seq ?? 0, hash: last?.hash.toString('hex') ?? '' },
  };
}

/** A batch is released, and a lot contained, with motors that are none of a reader's business. */
function relatedOf(plant: Plant, history: History, asOfMs: number): ReadonlySet<string> {
  const { unit, tree, sets, runs, repairs } = history;
  const known = [unit, ...tree.slice(0, 1)].flatMap(({ class: unitClass, serial }) => {
    const found = plant.units.bySerial(unitClass, serial);
    return found ? plant.genealogy.everIn(found.id, asOfMs).map((one) => one.unitId) : [];
  });
  return new Set([
    ...plant.units.serialsOf(known).values(),
    ...tree.map((node) => node.serial),
    ...[...sets, ...runs, ...repairs].map((one) => one.motor),
  ]);
}

function withHalves(plant: Plant, set: History['sets'][number]): SetFact {
  const motor = plant.units.bySerial('motor', set.motor);
  const made = motor && plant.pairing.ofMotor(motor.id);
  const halves = made ? [made.powerheadId, made.lowerUnitId] : [];
  const serials = plant.units.serialsOf(halves);
  const [powerhead = '', lowerUnit = ''] = halves.map((id) => serials.get(id) ?? '');
  return { ...set, powerhead, lowerUnit };
}

function runFact(plant: Plant, run: Run, asOfMs: number): RunFact {
  const specification = existingSpecification(plant, run.specification);
  const readings = plant.testing
    .batches(run.id)
    .filter((batch) => batch.measuredAtMs <= asOfMs)
    .flatMap((batch) => unpackReadings(specification.characteristics, batch.packed));
  return {
    run,
    specification,
    posted: readings.length,
    last: new Map(readings.map((reading) => [reading.code, reading])),
  };
}

/** The containments that picked the unit, or anything of the tree that it stands in. */
function containmentsOf(plant: Plant, history: History, asOfMs: number): ContainmentFact[] {
  const units = [history.unit, ...history.tree].flatMap(
    (one) => plant.units.bySerial(one.class, one.serial)?.id ?? [],
  );
  return [...new Set(units)].flatMap((unitId) =>
    containmentIdsOf(plant, unitId).flatMap((id) => {
      const containment = plant.containment.containment(id);
      const unit = containment && containedUnit(plant, containment, unitId);
      if (!unit || unit.joinedAtMs > asOfMs) return [];
      return [
        {
          id,
          title: containment.title,
          openedAt: iso(containment.openedAtMs),
          openedBy: containment.openedBy,
          unit: containedAsOf(unit, asOfMs),
        },
      ];
    }),
  );
}

/** Which containments a unit joined, as its own events say. */
function containmentIdsOf(plant: Plant, unitId: number): number[] {
  return plant.journal
    .ofUnits([unitId], TIMELINE_LIMIT)
    .filter(({ kind }) => kind === 'containment.opened' || kind === 'containment.joined')
    .map(({ content }) => (JSON.parse(content) as { id: number }).id);
}

function containedAsOf(unit: ContainedInWords, asOfMs: number): ContainedInWords {
  if (unit.disposedAtMs === null || unit.disposedAtMs <= asOfMs) return unit;
  return { ...unit, disposition: null, evidence: null, disposedAtMs: null, disposedBy: null };
}
