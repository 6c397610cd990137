import type { Plant } from '../plant.js';
import { reasonsInWords } from '../tracing/questions.js';
import type { Condition } from '../tracing/schema.js';
import type { ContainedFilter, ContainedRow, ContainmentRow } from './records.js';

/** A contained unit with the reasons why it was picked in words. */
export type ContainedInWords = Omit<ContainedRow, 'reasons'> & { reasons: string[] };

/** Units of a containment, ascending by id, from behind one. */
export function containedUnits(
  plant: Plant,
  { id, condition }: Pick<ContainmentRow, 'id' | 'condition'>,
  filter: ContainedFilter,
  afterId: number,
  limit: number,
): ContainedInWords[] {
  return inWords(plant, condition, plant.containment.contained(id, filter, afterId, limit));
}

/** One unit of a containment; undefined where it is not in it. */
export function containedUnit(
  plant: Plant,
  { id, condition }: Pick<ContainmentRow, 'id' | 'condition'>,
  unitId: number,
): ContainedInWords | undefined {
  const row = plant.containment.containedUnit(id, unitId);
  return row && inWords(plant, condition, [row])[0];
}

function inWords(
  plant: Plant,
  condition: Condition,
  rows: readonly ContainedRow[],
): ContainedInWords[] {
  const reasons = reasonsInWords(
    plant,
    condition,
    rows.map((row) => row.reasons),
  );
  return rows.map((row, i) => ({ ...row, reasons: reasons[i] ?? [] }));
}
