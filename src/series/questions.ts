import { existingSpecification } from '../catalogue/specification-actions.js';
import type { SpecificationRow } from '../catalogue/specification-records.js';
import { convert } from '../measurement/units.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import type { Characteristic } from '../testing/rules.js';
import { type BlockRuns, Outcome, packRuns, unpackColumn, unpackRuns } from './block.js';

/** Which values of which characteristic. */
export interface SeriesFilter {
  model: string;
  code: string;
  /** The runs ended at `fromMs` or later and before `untilMs`. */
  fromMs: number;
  untilMs: number;
  /** One cell only. */
  cell: string | null;
  /** `first`: each motor's first completed run; `all`: repeated runs too. */
  runs: 'first' | 'all';
}

/** Judged values of one characteristic, in the order in which their runs ended. */
export interface Series {
  /** The newest approved revision's characteristic: its limits, guard band and unit. */
  characteristic: Exclude<Characteristic, { kind: 'attribute' }>;
  /** In the unit of `characteristic`; runs where it was not measured are left out. */
  values: Float64Array;
  runIds: Float64Array;
  endedAtMs: Float64Array;
  /** Cells that occur; `cellOf` holds an index into them for each value. */
  cells: string[];
  cellOf: Uint16Array;
}

/** Runs of one specification with the values of any of its characteristics. */
export interface RunBlock extends BlockRuns {
  specification: SpecificationRow;
  cells: string[];
  /** Values of the characteristic at a position of the specification; NaN where not measured. */
  column(position: number): Float64Array;
}

/**
 * Every completed run of a model's approved specifications with its judged values, block by
 * block: folded ones, then those that are not folded yet. Blocks may hold runs that ended
 * outside the window.
 */
export function* runBlocks(
  plant: Plant,
  model: string,
  { fromMs, untilMs }: { fromMs: number; untilMs: number },
): Generator<RunBlock> {
  for (const id of plant.series.specificationsOf(model)) {
    const specification = existingSpecification(plant, id);
    for (const { id: blockId, cells, runs } of plant.series.blocks(id, fromMs, untilMs)) {
      yield {
        specification,
        ...unpackRuns(runs),
        cells: JSON.parse(cells) as string[],
        column: (position) => unpackColumn(plant.series.column(position, blockId)),
      };
    }
    yield recentBlock(plant, specification);
  }
}

function recentBlock(plant: Plant, specification: SpecificationRow): RunBlock {
  const rows = plant.series.recent(specification.id);
  const { cells, packed } = packRuns(rows);
  return {
    specification,
    ...unpackRuns(packed),
    cells,
    column: (position) =>
      Float64Array.from(rows, ({ judged }) => judged.readDoubleLE(position * 8)),
  };
}

/**
 * The values of one characteristic. Asked in a worker: a million of them take some tenths
 * of a second.
 *
 * Revisions that state it in another unit are converted to that of the newest.
 *
 * @throws Problem model-unknown; characteristic-unknown where no approved revision of the
 * model measures or derives a characteristic of this code.
 */
export function readSeries(plant: Plant, filter: SeriesFilter): Series {
  const characteristic = newestCharacteristic(plant, filter.model, filter.code);
  const series = new SeriesBuilder();
  for (const block of runBlocks(plant, filter.model, filter)) {
    const position = block.specification.characteristics.findIndex(
      (one) => one.code === filter.code && one.kind !== 'attribute',
    );
    const own = block.specification.characteristics[position];
    if (!own || own.kind === 'attribute') continue;
    series.add(block, block.column(position), filter, converter(own.unit, characteristic.unit));
  }
  return { characteristic, ...series.inOrder() };
}

/** @throws Problem model-unknown, characteristic-unknown */
export function newestCharacteristic(
  plant: Plant,
  model: string,
  code: string,
): Series['characteristic'] {
  if (!plant.catalogue.model(model)) {
    throw new Problem('model-unknown', `There is no model ${model}.`);
  }
  for (const id of plant.series.specificationsOf(model).reverse()) {
    const found = existingSpecification(plant, id).characteristics.find((one) => one.code === code);
    if (found && found.kind !== 'attribute') return found;
  }
  throw new Problem(
    'characteristic-unknown',
    `No approved specification of model ${model} measures ${code}.`,
  );
}

function converter(from: string, to: string): ((value: number) => number) | undefined {
  return from === to ? undefined : (value) => convert(value, from, to);
}

/** Grows the columns of a series, block by block. */
class SeriesBuilder {
  #count = 0;
  #values = new Float64Array(4096);
  #runIds = new Float64Array(4096);
  #endedAtMs = new Float64Array(4096);
  #cellOf = new Uint16Array(4096);
  readonly #cells = new Map<string, number>();

  add(
    block: RunBlock,
    column: Float64Array,
    { fromMs, untilMs, cell, runs }: SeriesFilter,
    toUnit: ((value: number) => number) | undefined,
  ): void {
    const cells = block.cells.map((one) =>
      cell === null || one === cell ? this.#cellIndex(one) : undefined,
    );
    const wanted = runs === 'first' ? Outcome.firstRun : 0;
    for (let i = 0; i < column.length; i += 1) {
      const value = column[i] as number;
      const endedAtMs = block.endedAtMs[i] as number;
      const cellAt = cells[block.cellOf[i] as number];
      if (Number.isNaN(value) || cellAt === undefined) continue;
      if (((block.outcomes[i] as number) & wanted) !== wanted) continue;
      if (endedAtMs < fromMs || endedAtMs >= untilMs) continue;
      if (this.#count === this.#values.length) this.#grow();
      this.#values[this.#count] = toUnit ? toUnit(value) : value;
      this.#runIds[this.#count] = block.runIds[i] as number;
      this.#endedAtMs[this.#count] = endedAtMs;
      this.#cellOf[this.#count] = cellAt;
      this.#count += 1;
    }
  }

  inOrder(): Omit<Series, 'characteristic'> {
    const order = this.#order();
    const inOrder = <A extends Float64Array | Uint16Array>(all: A): A => {
      const used = all.subarray(0, this.#count) as A;
      return order ? (used.map((_, i) => used[order[i] as number] as number) as A) : used;
    };
    return {
      values: inOrder(this.#values),
      runIds: inOrder(this.#runIds),
      endedAtMs: inOrder(this.#endedAtMs),
      cells: [...this.#cells.keys()],
      cellOf: inOrder(this.#cellOf),
    };
  }

  /** The order of the runs' ends; undefined where they stand in it already, as most do. */
  #order(): Uint32Array | undefined {
    const ends = this.#endedAtMs;
    let sorted = true;
    for (let i = 1; sorted && i < this.#count; i += 1) {
      sorted = (ends[i - 1] as number) <= (ends[i] as number);
    }
    if (sorted) return undefined;
    const ids = this.#runIds;
    return Uint32Array.from({ length: this.#count }, (_, i) => i).sort(
      (a, b) =>
        (ends[a] as number) - (ends[b] as number) || (ids[a] as number) - (ids[b] as number),
    );
  }

  #cellIndex(cell: string): number {
    const known = this.#cells.get(cell);
    if (known !== undefined) return known;
    this.#cells.set(cell, this.#cells.size);
    return this.#cells.size - 1;
  }

  #grow(): void {
    const more = 2 * this.#count;
    const grown = (used: Float64Array): Float64Array<ArrayBuffer> => {
      const larger = new Float64Array(more);
      larger.set(used);
      return larger;
    };
    this.#values = grown(this.#values);
    this.#runIds = grown(this.#runIds);
    this.#endedAtMs = grown(this.#endedAtMs);
    const cellOf = new Uint16Array(more);
    cellOf.set(this.#cellOf);
    this.#cellOf = cellOf;
  }
}
