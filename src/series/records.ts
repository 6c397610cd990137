import type { Database } from 'better-sqlite3';
import { nextIdOn } from '../store/next-id.js';
import { packColumn, packRuns, RUNS_A_BLOCK, type SeriesRun } from './block.js';

/** A run with its judged values, see src/testing/packing.ts. */
export interface JudgedRunRow extends SeriesRun {
  judged: Buffer;
}

/** A folded block with the column that was asked for. */
export interface StoredBlock {
  id: number;
  /** JSON. */
  cells: string;
  runs: Buffer;
}

interface StoredRun {
  runId: number;
  endedAtMs: number;
  cell: string;
  attempt: number;
  verdict: string;
  firstPass: number | null;
  judged: Buffer;
}

const VALUE_BYTES = 8;

/** Series' SQL on one connection. */
export function seriesRecords(db: Database) {
  const { recent, clear, ...write } = writeStatements(db);

  const neverAppended = db.prepare<[], { specificationId: number; runId: number }>(`
    SELECT r.specification_id AS specificationId, r.id AS runId
    FROM events e
    JOIN runs r ON r.id = e.content ->> '$.id'
    WHERE e.kind = 'run.completed'
    ORDER BY e.seq`);
  const some = db.prepare(
    'SELECT 1 FROM series_recent UNION ALL SELECT 1 FROM series_blocks LIMIT 1',
  );

  /** Five hundred runs become a block: one column for each characteristic. */
  function addBlock(specificationId: number, runs: readonly JudgedRunRow[]): void {
    const id = write.nextBlockId();
    const ends = runs.map((run) => run.endedAtMs);
    const { cells, packed } = packRuns(runs);
    write.addBlock.run({
      id,
      specificationId,
      fromMs: Math.min(...ends),
      untilMs: Math.max(...ends),
      cells: JSON.stringify(cells),
      runs: packed,
    });
    const columns = (runs[0]?.judged.length ?? 0) / VALUE_BYTES;
    for (let position = 0; position < columns; position += 1) {
      write.addColumn.run(id, position, packColumn(columnOf(runs, position)));
    }
  }

  return {
    addBlock,
    /** Adds a completed run behind those of its specification; a full block is folded at once. */
    append(specificationId: number, runId: number): void {
      const place = write.nextPlace.get(specificationId)?.place ?? 0;
      write.append.run(specificationId, place, runId);
      if (place < RUNS_A_BLOCK - 1) return;
      addBlock(specificationId, recent(specificationId));
      clear.run(specificationId);
    },
    /** Completed runs that no block holds yet, in order. */
    recent,
    /** All completed runs in the order of their events, where not one of them is in a series. */
    neverAppended: () => (some.get() === undefined ? neverAppended.all() : []),
    ...readStatements(db),
  };
}

function columnOf(runs: readonly JudgedRunRow[], position: number): Float64Array {
  return Float64Array.from(runs, ({ judged }) => judged.readDoubleLE(position * VALUE_BYTES));
}

function writeStatements(db: Database) {
  const recent = db.prepare<[number], StoredRun>(`
    SELECT r.id AS runId, r.ended_at_ms AS endedAtMs, r.cell, r.attempt, r.verdict,
           r.first_pass AS firstPass, r.judged
    FROM series_recent s
    JOIN runs r ON r.id = s.run_id
    WHERE s.specification_id = ?
    ORDER BY s.place`);
  return {
    nextPlace: db.prepare<[number], { place: number }>(
      'SELECT COALESCE(MAX(place), -1) + 1 AS place FROM series_recent WHERE specification_id = ?',
    ),
    append: db.prepare(
      'INSERT INTO series_recent (specification_id, place, run_id) VALUES (?, ?, ?)',
    ),
    recent: (specificationId: number): JudgedRunRow[] =>
      recent.all(specificationId).map(({ verdict, firstPass, ...run }) => ({
        passed: verdict === 'pass',
        firstPass: firstPass === 1,
        ...run,
      })),
    clear: db.prepare('DELETE FROM series_recent WHERE specification_id = ?'),
    nextBlockId: nextIdOn(db, 'series_blocks'),
    addBlock: db.prepare(`
      INSERT INTO series_blocks (id, specification_id, number, from_ms, until_ms, cells, runs)
      SELECT @id, @specificationId, COALESCE(MAX(number), -1) + 1, @fromMs, @untilMs, @cells, @runs
      FROM series_blocks
      WHERE specification_id = @specificationId`),
    addColumn: db.prepare(
      'INSERT INTO series_columns (block_id, position, packed) VALUES (?, ?, ?)',
    ),
  };
}

function readStatements(db: Database) {
  // Reads the unique index on (specification_id, number).
  const blocks = db.prepare<
    [{ specificationId: number; fromMs: number; untilMs: number }],
    StoredBlock
  >(`
    SELECT id, cells, runs
    FROM series_blocks
    WHERE specification_id = @specificationId AND until_ms >= @fromMs AND from_ms < @untilMs
    ORDER BY number`);
  const column = db.prepare<[number, number], { packed: Buffer }>(
    'SELECT packed FROM series_columns WHERE position = ? AND block_id = ?',
  );
  const ofModel = db.prepare<[string], { id: number }>(`
    SELECT s.id
    FROM specifications s
    JOIN models m ON m.id = s.model_id
    WHERE m.code = ? AND s.state = 'approved'
    ORDER BY s.revision`);
  return {
    /** Blocks that have runs which ended in a window. */
    blocks: (specificationId: number, fromMs: number, untilMs: number) =>
      blocks.iterate({ specificationId, fromMs, untilMs }),
    /** A block's values of the characteristic at a position of its specification. */
    column(position: number, blockId: number): Buffer {
      const row = column.get(position, blockId);
      if (!row) throw new Error(`block ${blockId} has no column ${position}`);
      return row.packed;
    },
    /** Approved revisions of a model, oldest first. */
    specificationsOf: (model: string) => ofModel.all(model).map((row) => row.id),
  };
}
