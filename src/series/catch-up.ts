import type { Plant } from '../plant.js';

/**
 * Puts the completed runs of a database from before series were kept where their events
 * would have put them; a migration cannot, since blocks are packed by code. Does nothing
 * where they stand. Returns how many it put.
 */
export function catchUpSeries(plant: Plant): number {
  const missing = plant.series.neverAppended();
  for (const { specificationId, runId } of missing) plant.series.append(specificationId, runId);
  return missing.length;
}
