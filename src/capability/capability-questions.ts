import type { z } from 'zod';
import { existingModel } from '../catalogue/actions.js';
import { existingSpecification } from '../catalogue/specification-actions.js';
import type { Plant } from '../plant.js';
import { readSeries, type Series, type SeriesFilter } from '../series/questions.js';
import type { RunRow } from '../testing/records.js';
import { iso } from '../time.js';
import type { capabilityAnswer, overviewLine } from './capability-schema.js';
import {
  judgedCounts,
  presentCharacteristic,
  presentRevisions,
  revisionsWith,
} from './revisions.js';
import { type Against, type Beyond, capabilityFigures, extremePlaces } from './rules.js';
import { capabilityLink, presentWindow, readingsLink, type Selection } from './schema.js';

/** Runs shown at either end of the values. */
const EXTREMES = 5;

export interface CapabilityAsked {
  filter: SeriesFilter;
  /** Runs of a subgroup; null for moving ranges. */
  subgroup: number | null;
}

type Answer = z.input<typeof capabilityAnswer>;

/**
 * The capability of one characteristic; for a worker thread.
 * @throws Problem model-unknown, characteristic-unknown
 */
export function capabilityOf(plant: Plant, { filter, subgroup }: CapabilityAsked): Answer {
  return plant.atomically(() => {
    const series = readSeries(plant, filter);
    const { characteristic, values, runIds } = series;
    const revisions = revisionsWith(plant, filter.model, filter.code);
    const { histogram, specification, acceptance, ...figures } = capabilityFigures(
      values,
      characteristic,
      subgroup,
    );
    const { lowest, highest } = extremePlaces(values, EXTREMES);
    return {
      model: filter.model,
      characteristic: presentCharacteristic(revisions),
      window: presentWindow(filter),
      cell: filter.cell,
      runs: filter.runs,
      subgroup,
      link: readingsLink(filter),
      ...figures,
      specification: presentAgainst(filter, 'specification', specification),
      acceptance: {
        guardBand: characteristic.guardBand,
        ...presentAgainst(filter, 'acceptance', acceptance),
      },
      histogram: presentHistogram(filter, histogram),
      lowest: lowest.map((place) => presentExtreme(plant, series, place)),
      highest: highest.map((place) => presentExtreme(plant, series, place)),
      ...presentRevisions(filter, revisions, judgedCounts(plant, filter, revisions, runIds)),
    };
  });
}

function presentAgainst(
  filter: SeriesFilter,
  limits: 'specification' | 'acceptance',
  { observedOutside: observed, ...against }: Against,
): Answer['specification'] {
  if (observed === null) return { ...against, observedOutside: null };
  const { below, above, total } = observed;
  const linked = (side: Beyond, beyond: `${'' | 'lower-' | 'upper-'}${typeof limits}`) => ({
    ...side,
    link: readingsLink(filter, { beyond }),
  });
  return {
    ...against,
    observedOutside: {
      below: below && linked(below, `lower-${limits}`),
      above: above && linked(above, `upper-${limits}`),
      total: linked(total, limits),
    },
  };
}

function presentHistogram(
  filter: SeriesFilter,
  { classes, reason }: ReturnType<typeof capabilityFigures>['histogram'],
): Answer['histogram'] {
  if (classes === null) return { classes: [], reason };
  const { edges, counts } = classes;
  const last = counts.length - 1;
  return {
    classes: counts.map((count, i) => {
      const [from, until] = [edges[i] ?? 0, edges[i + 1] ?? 0];
      const within = i === last ? { valueFrom: from } : { valueFrom: from, valueUntil: until };
      return { from, until, count, link: readingsLink(filter, within) };
    }),
    reason,
  };
}

function presentExtreme(plant: Plant, series: Series, place: number): Answer['lowest'][number] {
  const { id, motor, cell } = runAt(plant, series, place);
  return {
    run: id,
    motor,
    cell,
    endedAt: iso(series.endedAtMs[place] ?? 0),
    value: series.values[place] ?? 0,
    link: `/v1/runs/${id}`,
  };
}

/** The run of a value by its place in the series. */
export function runAt(plant: Plant, { runIds }: Series, place: number): RunRow {
  const id = runIds[place] ?? 0;
  const run = plant.testing.run(id);
  if (!run) throw new Error(`run ${id} of a series is not there`);
  return run;
}

export interface OverviewAsked {
  model: string;
  selection: Selection;
  subgroup: number | null;
}

/**
 * The capability of every measured or derived characteristic of a model, in the order of
 * its newest specification; for a worker thread.
 * @throws Problem model-unknown
 */
export function overviewOf(plant: Plant, asked: OverviewAsked): z.input<typeof overviewLine>[] {
  return plant.atomically(() => {
    existingModel(plant, asked.model);
    return codesOf(plant, asked.model).map((code) => lineOf(plant, asked, code));
  });
}

/** Codes that are measured or derived, those of newer revisions first. */
function codesOf(plant: Plant, model: string): string[] {
  const codes = plant.series
    .specificationsOf(model)
    .reverse()
    .flatMap((id) => existingSpecification(plant, id).characteristics)
    .filter((one) => one.kind !== 'attribute')
    .map((one) => one.code);
  return [...new Set(codes)];
}

function lineOf(
  plant: Plant,
  { model, selection, subgroup }: OverviewAsked,
  code: string,
): z.input<typeof overviewLine> {
  const filter = { ...selection, model, code };
  const { characteristic, values } = readSeries(plant, filter);
  const figures = capabilityFigures(values, characteristic, subgroup);
  const { count, moments, normality, method, specification, acceptance } = figures;
  return {
    characteristic: code,
    name: characteristic.name,
    unit: characteristic.unit,
    count,
    mean: moments.mean,
    standardDeviation: moments.standardDeviation,
    lower: characteristic.lower,
    upper: characteristic.upper,
    cpk: specification.within.cpk?.estimate ?? null,
    ppk: specification.overall.ppk?.estimate ?? null,
    ppkPercentile: specification.percentile.ppk,
    outsideSpecification: specification.observedOutside?.total.fraction ?? null,
    outsideAcceptance: acceptance.observedOutside?.total.fraction ?? null,
    normal: normality.normal,
    method: method.read,
    why: method.why,
    link: capabilityLink(filter, subgroup),
  };
}
