import type { z } from 'zod';
import type { NamedEvent } from '../journal/records.js';
import { merged } from '../merged.js';
import type { Plant } from '../plant.js';
import { presentRelease } from '../release/schema.js';
import { presentRepairDetail } from '../repair/schema.js';
import { judgementsOf } from '../testing/present.js';
import { presentRun } from '../testing/schema.js';
import { iso, isoOrNull } from '../time.js';
import type { OfUnit } from '../units/records.js';
import { resolveAnyUnit } from '../units/resolve.js';
import { presentHold, presentUnit } from '../units/schema.js';
import { holdsAsOf, repairAsOf, runAsOf, setAsOf } from './as-of.js';
import { describeEvent } from './describe.js';
import { DEPTH_LIMIT, NOW_AND_ON, type TreeNode } from './records.js';
import type { eventShape, historyShape } from './schema.js';

/** Events read of one unit, and shown of one history, at most. */
export const TIMELINE_LIMIT = 2000;

/** A unit whose events belong to a history, and from when until when they do. */
interface Window {
  unitId: number;
  fromMs: number;
  untilMs: number;
}

interface HistoryQuery {
  serial: string;
  class?: string | undefined;
  asOf?: number | undefined;
}

/**
 * Everything that is known of a serial: the tree it stands in at an instant, what had
 * happened by then to it, to what is in it and to what it is in, and how its motors ran.
 * Of one snapshot, which also takes fewer locks than a statement each.
 * @throws Problem scan-unreadable, serial-unknown, serial-ambiguous, wrong-class
 */
export function historyOf(
  plant: Plant,
  query: HistoryQuery,
  now: number,
): z.input<typeof historyShape> {
  return plant.atomically(() => readHistory(plant, query, now));
}

function readHistory(plant: Plant, query: HistoryQuery, now: number): z.input<typeof historyShape> {
  const unit = resolveAnyUnit(plant, query.serial, query.class);
  const asOfMs = query.asOf ?? NOW_AND_ON;
  const rootId = plant.genealogy.outermost(unit.id, asOfMs);
  const tree = plant.genealogy.tree(rootId, asOfMs);
  const windows = windowsOf(plant, unit.id, asOfMs);
  const ofMotors = motorWindows(plant, windows);
  const { events, cut } = timelineOf(plant, windows);
  const [root] = tree;
  return {
    unit: presentUnit(unit),
    asOf: iso(query.asOf ?? now),
    motor: root?.class === 'motor' ? root.serial : null,
    tree: presentTree(plant, tree, unit.id, asOfMs),
    sets: [...new Set(ofMotors.map((window) => window.unitId))].flatMap((id) =>
      setOf(plant, id, asOfMs),
    ),
    runs: runsIn(plant, ofMotors, asOfMs),
    repairs: repairsIn(plant, ofMotors, asOfMs),
    holds: holdsAsOf(
      plant.units.holdsOf([...new Set([unit.id, ...tree.map((node) => node.unitId)])]),
      asOfMs,
    ).map(presentHold),
    release: releaseIn(plant, ofMotors),
    timeline: presentAbout(plant, events),
    timelineCut: cut,
  };
}

/**
 * The units whose events belong to a unit's history: itself always, what was in it
 * until it left, and what it was in for as long as it was.
 */
function windowsOf(plant: Plant, unitId: number, asOfMs: number): Window[] {
  const inside = plant.genealogy.everIn(unitId, asOfMs).map((one) => ({
    unitId: one.unitId,
    fromMs: 0,
    untilMs: Math.min(one.untilMs ?? NOW_AND_ON, asOfMs),
  }));
  return [...inside, ...outside(plant, { unitId, fromMs: 0, untilMs: asOfMs })];
}

/** Those of motors: no other unit is set, tested, repaired or released. */
function motorWindows(plant: Plant, windows: readonly Window[]): Window[] {
  const motors = plant.units.motorsAmong(windows.map((window) => window.unitId));
  return windows.filter((window) => motors.has(window.unitId));
}

/** Bounded: two units that each held the other in turn, at one instant, lead round and round. */
function outside(plant: Plant, window: Window, level = 1): Window[] {
  if (level > DEPTH_LIMIT) return [];
  return plant.genealogy.ofChild(window.unitId).flatMap((place) => {
    const parent = {
      unitId: place.parentId,
      fromMs: Math.max(window.fromMs, place.fromMs),
      untilMs: Math.min(window.untilMs, place.untilMs ?? NOW_AND_ON),
    };
    if (parent.fromMs > parent.untilMs) return [];
    return [parent, ...outside(plant, parent, level + 1)];
  });
}

/** An event with the units that it is about. */
interface EventOfUnits extends NamedEvent {
  unitIds: number[];
}

function timelineOf(plant: Plant, windows: Window[]): { events: EventOfUnits[]; cut: boolean } {
  const ids = [...new Set(windows.map((window) => window.unitId))];
  const found = withUnits(plant.journal.ofUnits(ids, TIMELINE_LIMIT + 1));
  const isIn = ({ unitIds, occurredAtMs }: EventOfUnits) =>
    windows.some(
      ({ unitId, fromMs, untilMs }) =>
        occurredAtMs >= fromMs && occurredAtMs <= untilMs && unitIds.includes(unitId),
    );
  return {
    events: found.slice(0, TIMELINE_LIMIT).filter(isIn),
    cut: found.length > TIMELINE_LIMIT,
  };
}

function withUnits(events: readonly NamedEvent[]): EventOfUnits[] {
  return events.map((event) => ({ unitIds: JSON.parse(event.units) as number[], ...event }));
}

/** Events as callers see them. */
export function presentEvents(
  plant: Plant,
  events: readonly NamedEvent[],
): z.input<typeof eventShape>[] {
  return presentAbout(plant, withUnits(events));
}

function presentAbout(plant: Plant, events: readonly EventOfUnits[]): z.input<typeof eventShape>[] {
  const serials = plant.units.serialsOf([...new Set(events.flatMap((event) => event.unitIds))]);
  return events.map((event) => ({
    seq: event.seq,
    at: iso(event.occurredAtMs),
    recordedAt: iso(event.recordedAtMs),
    kind: event.kind,
    text: describeEvent(event.kind, JSON.parse(event.content)),
    actor: event.actor,
    station: event.station,
    units: event.unitIds.flatMap((id) => serials.get(id) ?? []),
  }));
}

/** A tree as an answer shows it, with what was known of each unit at an instant. */
export function presentTree(plant: Plant, tree: TreeNode[], askedId: number, asOfMs: number) {
  const ids = tree.map((node) => node.unitId);
  const inspections = byUnit(plant.units.inspections(ids), asOfMs);
  const fastenings = byUnit(plant.units.fastenings(ids), asOfMs);
  const lots = byUnit(plant.units.lotUses(ids), asOfMs);
  const serials = new Map(tree.map((node) => [node.unitId, node.serial]));
  return tree.map((node) => ({
    class: node.class,
    serial: node.serial,
    part: node.part,
    partRevision: node.partRevision,
    model: node.model,
    position: node.position,
    parent: node.parentId === null ? null : (serials.get(node.parentId) ?? null),
    since: isoOrNull(node.fromMs),
    depth: node.depth,
    asked: node.unitId === askedId,
    inspections: inspections.get(node.unitId) ?? [],
    fastenings: fastenings.get(node.unitId) ?? [],
    lots: lots.get(node.unitId) ?? [],
  }));
}

/** Rows as an answer shows them, by unit; those that came after the instant are left out. */
function byUnit<T extends OfUnit & { atMs: number }>(rows: readonly T[], asOfMs: number) {
  const found = new Map<number, (Omit<T, 'unitId' | 'atMs'> & { at: string })[]>();
  for (const { unitId, atMs, ...row } of rows) {
    if (atMs > asOfMs) continue;
    const own = found.get(unitId);
    const shown = { at: iso(atMs), ...row };
    if (own) own.push(shown);
    else found.set(unitId, [shown]);
  }
  return found;
}

/** The set that made a motor, as it was known at an instant; none for a unit that is no motor. */
export function setOf(plant: Plant, motorId: number, asOfMs: number) {
  const found = plant.pairing.ofMotor(motorId);
  if (!found || found.atMs > asOfMs) return [];
  const set = setAsOf(found, asOfMs);
  return [
    {
      motor: set.motor,
      order: set.order,
      configuration: set.configuration,
      configurationRevision: set.configurationRevision,
      station: set.station,
      setBy: set.setBy,
      at: iso(set.atMs),
      tornDownAt: isoOrNull(set.tornDownAtMs),
      teardownReason: set.teardownReason,
    },
  ];
}

/** What is of these windows: each once, though a unit that left and came back has several. */
function within<T extends { id: number }>(
  windows: readonly Window[],
  ofUnit: (unitId: number) => T[],
  isIn: (one: T, window: Window) => boolean,
): T[] {
  const found = windows.flatMap((window) =>
    ofUnit(window.unitId).filter((one) => isIn(one, window)),
  );
  return [...new Map(found.map((one) => [one.id, one])).values()].sort((a, b) => a.id - b.id);
}

function runsIn(plant: Plant, windows: readonly Window[], asOfMs: number) {
  return within(
    windows,
    plant.testing.runsOf,
    (run, { fromMs, untilMs }) => run.startedAtMs >= fromMs && run.startedAtMs <= untilMs,
  )
    .map((run) => runAsOf(run, asOfMs))
    .map((run) => merged(presentRun(run), { judgements: judgementsOf(plant, run) }));
}

/** Repairs while the unit was there, also the one that fitted it. */
function repairsIn(plant: Plant, windows: readonly Window[], asOfMs: number) {
  return within(
    windows,
    plant.repair.ofMotor,
    (repair, { fromMs, untilMs }) =>
      repair.openedAtMs <= untilMs && (repair.closedAtMs ?? NOW_AND_ON) >= fromMs,
  ).map((one) => {
    const { repair, exchanges } = repairAsOf(one, plant.repair.exchanges(one.id), asOfMs);
    return presentRepairDetail(repair, exchanges);
  });
}

/** The release of the motor that it is, or went out in: not of one that it had left before. */
function releaseIn(plant: Plant, windows: readonly Window[]) {
  const release = windows
    .map(({ unitId, untilMs }) => {
      const found = plant.release.ofMotor(unitId);
      return found && found.atMs <= untilMs ? found : undefined;
    })
    .findLast((one) => one !== undefined);
  return release ? presentRelease(release) : null;
}
