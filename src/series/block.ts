/** Runs of a specification that are folded into one block. */
export const RUNS_A_BLOCK = 500;

/** A completed run as series look at it. */
export interface SeriesRun {
  runId: number;
  endedAtMs: number;
  cell: string;
  attempt: number;
  passed: boolean;
  firstPass: boolean;
}

/** What is known of each run of a block, in the order in which they were completed. */
export interface BlockRuns {
  runIds: Float64Array;
  endedAtMs: Float64Array;
  /** Index into the block's cells. */
  cellOf: Uint16Array;
  /** Bits of `Outcome`. */
  outcomes: Uint8Array;
}

/** Bits of what became of a run. */
export const Outcome = Object.freeze({
  passed: 1,
  /** The motor's first completed run. */
  firstRun: 2,
  /** First-pass, see the rules of testing. */
  firstPass: 4,
});

const BYTES_A_RUN = 8 + 8 + 2 + 1;

export interface PackedRuns {
  cells: string[];
  packed: Buffer;
}

/** Runs as they are stored: all ids, all ends, all cells, all outcomes; little-endian. */
export function packRuns(runs: readonly SeriesRun[]): PackedRuns {
  const cells = [...new Set(runs.map((run) => run.cell))];
  const cellIndex = new Map(cells.map((cell, i) => [cell, i]));
  const packed = Buffer.alloc(runs.length * BYTES_A_RUN);
  const [ends, cellsAt, outcomesAt] = [8, 16, 18].map((bytes) => bytes * runs.length) as [
    number,
    number,
    number,
  ];
  for (const [i, run] of runs.entries()) {
    packed.writeDoubleLE(run.runId, i * 8);
    packed.writeDoubleLE(run.endedAtMs, ends + i * 8);
    packed.writeUInt16LE(cellIndex.get(run.cell) ?? 0, cellsAt + i * 2);
    packed.writeUInt8(outcomeOf(run), outcomesAt + i);
  }
  return { cells, packed };
}

function outcomeOf({ attempt, passed, firstPass }: SeriesRun): number {
  return (
    (passed ? Outcome.passed : 0) |
    (attempt === 1 ? Outcome.firstRun : 0) |
    (firstPass ? Outcome.firstPass : 0)
  );
}

/** The runs that `packRuns` packed. */
export function unpackRuns(packed: Buffer): BlockRuns {
  const count = packed.length / BYTES_A_RUN;
  const bytes = ownBytes(packed);
  return {
    runIds: new Float64Array(bytes, 0, count),
    endedAtMs: new Float64Array(bytes, 8 * count, count),
    cellOf: new Uint16Array(bytes, 16 * count, count),
    outcomes: new Uint8Array(bytes, 18 * count, count),
  };
}

/** A column's form stands in its last byte: 0 to 6 decimals of whole numbers, or doubles. */
const DECIMALS_MAX = 6;
const DOUBLES = 255;
/** Stands for a value that was not measured, among whole numbers. */
const MISSING = -(2 ** 31);
const WHOLE_MAX = 2 ** 31 - 1;

/**
 * A column of values, NaN where nothing was measured: four bytes each where every value is
 * exactly a whole number of some power of ten, as gauges show them, else eight. No value
 * changes by it.
 */
export function packColumn(values: Float64Array): Buffer {
  const decimals = decimalsOf(values);
  if (decimals === undefined) {
    const packed = Buffer.alloc(values.length * 8 + 1, DOUBLES);
    for (const [i, value] of values.entries()) packed.writeDoubleLE(value, i * 8);
    return packed;
  }
  const scale = 10 ** decimals;
  const packed = Buffer.alloc(values.length * 4 + 1, decimals);
  for (const [i, value] of values.entries()) {
    packed.writeInt32LE(Number.isNaN(value) ? MISSING : Math.round(value * scale), i * 4);
  }
  return packed;
}

/** The fewest decimals that state every value exactly; undefined if none within reach do. */
function decimalsOf(values: Float64Array): number | undefined {
  for (let decimals = 0; decimals <= DECIMALS_MAX; decimals += 1) {
    const scale = 10 ** decimals;
    if (values.every((value) => Number.isNaN(value) || isWhole(value, scale))) return decimals;
  }
  return undefined;
}

function isWhole(value: number, scale: number): boolean {
  const whole = Math.round(value * scale);
  return Math.abs(whole) <= WHOLE_MAX && whole / scale === value;
}

/** The values that `packColumn` packed. */
export function unpackColumn(packed: Buffer): Float64Array {
  const form = packed[packed.length - 1] ?? DOUBLES;
  const bytes = ownBytes(packed);
  if (form === DOUBLES) return new Float64Array(bytes, 0, (packed.length - 1) / 8);
  const scale = 10 ** form;
  const wholes = new Int32Array(bytes, 0, (packed.length - 1) / 4);
  const values = new Float64Array(wholes.length);
  for (let i = 0; i < wholes.length; i += 1) {
    const whole = wholes[i] as number;
    values[i] = whole === MISSING ? Number.NaN : whole / scale;
  }
  return values;
}

/** A copy that begins at an address of its own, as views of many bytes need it. */
function ownBytes(packed: Buffer): ArrayBuffer {
  const bytes = new ArrayBuffer(packed.length);
  new Uint8Array(bytes).set(packed);
  return bytes;
}
