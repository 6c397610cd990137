import { hash } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Database } from 'better-sqlite3';
import { existingSpecification } from '../catalogue/specification-actions.js';
import { packageFile } from '../package-root.js';
import { connectPlant, type Plant } from '../plant.js';
import { isStorageTrouble } from '../store/errors.js';
import { openReader, openWriter } from '../store/open.js';
import { readingsOf } from '../testing/actions.js';
import type { BatchPosted, Completed, ReadingsPosted } from '../testing/events.js';
import { packJudged, unpackReadings } from '../testing/packing.js';
import { judgeRun } from '../testing/rules.js';
import type { Applier } from './applier.js';
import { CHAIN_START, chainHash } from './chain.js';
import { appliers, type EventKind } from './kinds.js';
import type { StoredEvent } from './records.js';
import { yieldFindings } from './verify-yield.js';

export interface Finding {
  /** The event at which it shows, where it is one. */
  seq?: number;
  table?: string;
  detail: string;
}

export interface Verification {
  events: number;
  /** Hash of the last event in hex: noted outside, it also shows an end that was cut off. */
  lastHash: string;
  /** State rows that were rebuilt and compared. */
  rows: number;
  findings: Finding[];
}

const EVENTS_A_READ = 1000;
/** Findings told; a broken database has more than anyone reads. */
const FINDINGS_TOLD = 100;

/**
 * Checks a database against its own evidence, also while a service writes to it:
 * - SQLite's own integrity and foreign-key checks;
 * - every event's hash, so a changed, removed or inserted event shows;
 * - every batch of readings against the digest in its event;
 * - every verdict, judged again from the readings;
 * - every state table against one rebuilt from the events alone;
 * - the yield roll-up and the motors behind it against a full computation over the runs.
 */
export function verifyDatabase(
  path: string,
  progress: (events: number) => void = () => {},
): Verification {
  const source = openReader(path);
  const folder = mkdtempSync(join(tmpdir(), 'skeg-verify-'));
  const rebuilt = openWriter(join(folder, 'rebuilt.db'), packageFile('migrations'));
  const findings: Finding[] = [];
  try {
    rebuilt.pragma('synchronous = OFF');
    // One snapshot for the whole check, whatever a running service commits meanwhile.
    source.exec('BEGIN');
    checkEngine(source, findings);
    copyKeys(source, rebuilt);
    const last = replay(source, rebuilt, findings, progress);
    const rows = compareTables(source, rebuilt, findings);
    findings.push(...yieldFindings(source));
    checkAnswers(source, findings);
    return {
      events: last.seq,
      lastHash: last.hash.toString('hex'),
      rows,
      findings: findings.slice(0, FINDINGS_TOLD),
    };
  } catch (error) {
    // SQLite gives up on some damage, and damaged rows are not what the code expects.
    if (findings.length === 0 && !isStorageTrouble(error)) throw error;
    findings.push({ detail: `it cannot be read any further: ${(error as Error).message}` });
    return { events: 0, lastHash: '', rows: 0, findings: findings.slice(-FINDINGS_TOLD) };
  } finally {
    source.close();
    rebuilt.close();
    rmSync(folder, { recursive: true, force: true });
  }
}

function checkEngine(source: Database, findings: Finding[]): void {
  for (const row of source.pragma('integrity_check') as { integrity_check: string }[]) {
    if (row.integrity_check !== 'ok') findings.push({ detail: row.integrity_check });
  }
  for (const row of source.pragma('foreign_key_check') as { table: string }[]) {
    findings.push({ table: row.table, detail: 'a row refers to one that is not there' });
  }
}

/** Keys are administration and stand outside the rebuild; other tables refer to them. */
function copyKeys(source: Database, rebuilt: Database): void {
  const add = rebuilt.prepare(
    'INSERT INTO api_keys VALUES (@id, @name, @secret_hash, @roles, @created_at_ms, @expires_at_ms, @revoked_at_ms)',
  );
  for (const row of source.prepare('SELECT * FROM api_keys').all()) add.run(row);
}

function replay(
  source: Database,
  rebuilt: Database,
  findings: Finding[],
  progress: (events: number) => void,
): { seq: number; hash: Buffer } {
  const from = connectPlant(source);
  const to = connectPlant(rebuilt);
  let last: { seq: number; hash: Buffer } = { seq: 0, hash: CHAIN_START };
  rebuilt.exec('BEGIN');
  for (;;) {
    const events = from.journal.after(last.seq, EVENTS_A_READ);
    if (events.length === 0) break;
    for (const event of events) {
      checkLink(last, event, findings);
      applyAgain(from, to, event, findings);
      last = event;
    }
    progress(last.seq);
  }
  rebuilt.exec('COMMIT');
  return last;
}

function checkLink(
  last: { seq: number; hash: Buffer },
  event: StoredEvent,
  findings: Finding[],
): void {
  const { seq, hash, ...row } = event;
  if (seq !== last.seq + 1) {
    findings.push({ seq, detail: `events ${last.seq + 1} to ${seq - 1} are missing` });
  } else if (!chainHash(last.hash, { seq, ...row }).equals(hash)) {
    findings.push({ seq, detail: 'the event or the one before it was changed' });
  }
}

function applyAgain(from: Plant, to: Plant, event: StoredEvent, findings: Finding[]): void {
  const { seq, kind } = event;
  try {
    to.journal.append(event, JSON.parse(event.units) as number[]);
    const content: unknown = JSON.parse(event.content);
    const attachment = attachmentOf(from, to, kind, content, (detail) =>
      findings.push({ seq, detail }),
    );
    const apply = appliers[kind as EventKind] as unknown as Applier<unknown> | undefined;
    if (!apply) throw new Error(`${kind} is no kind of event`);
    to.atomically(() => apply(to, content, event, attachment));
  } catch (error) {
    const detail = error instanceof Error ? error.message : String(error);
    findings.push({ seq, detail: `${kind} cannot be applied again: ${detail}` });
  }
}

/** The bytes that an event only states the digest or the verdict of. */
function attachmentOf(
  from: Plant,
  to: Plant,
  kind: string,
  content: unknown,
  report: (detail: string) => void,
): Buffer | undefined {
  if (kind === 'run.readings') {
    const posted = content as ReadingsPosted;
    return storedBatch(from, posted.runId, posted, report);
  }
  if (kind !== 'run.completed') return undefined;
  const completed = content as Completed;
  const packed = completed.batch
    ? storedBatch(from, completed.id, completed.batch, report)
    : Buffer.alloc(0);
  return Buffer.concat([packed, judgeAgain(to, completed, packed, report)]);
}

/** A batch of readings as it is stored, held against the digest in its event. */
function storedBatch(
  from: Plant,
  runId: number,
  { sequence, digest }: BatchPosted,
  report: (detail: string) => void,
): Buffer {
  const packed = from.testing.batch(runId, sequence)?.packed;
  if (!packed) throw new Error('its readings are gone');
  if (hash('sha256', packed, 'hex') !== digest) {
    report(`the readings of run ${runId}, batch ${sequence}, were changed`);
  }
  return packed;
}

function judgeAgain(
  to: Plant,
  completed: Completed,
  lastBatch: Buffer,
  report: (detail: string) => void,
): Buffer {
  const run = to.testing.run(completed.id);
  if (!run) throw new Error(`run ${completed.id} was never started`);
  const specification = existingSpecification(to, run.specificationId);
  const readings = [
    ...readingsOf(to, run.id, specification),
    ...unpackReadings(specification.characteristics, lastBatch),
  ];
  const answer = judgeRun(specification.characteristics, readings);
  if (!answer.complete) throw new Error(`run ${run.id} has not all its readings`);
  if (answer.run.verdict !== completed.verdict) {
    report(`run ${run.id} is recorded as ${completed.verdict} but judges as ${answer.run.verdict}`);
  }
  return packJudged(answer.run.judgements.map((one) => one.value));
}

/** Tables that the events do not rebuild: keys, sessions, stored answers, the events themselves. */
const notRebuilt = ['api_keys', 'sessions', 'idempotency', 'migrations', 'events'];

function compareTables(source: Database, rebuilt: Database, findings: Finding[]): number {
  const tables = source
    .prepare<[], { name: string }>(
      "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name",
    )
    .all()
    .map((row) => row.name)
    .filter((name) => !notRebuilt.includes(name));
  return tables.reduce((rows, table) => rows + compareTable(source, rebuilt, table, findings), 0);
}

function compareTable(
  source: Database,
  rebuilt: Database,
  table: string,
  findings: Finding[],
): number {
  const columns = source.pragma(`table_info(${table})`) as { name: string; pk: number }[];
  const key = columns
    .filter((column) => column.pk > 0)
    .sort((a, b) => a.pk - b.pk)
    .map((column) => column.name);
  const sql = `SELECT * FROM ${table} ORDER BY ${key.join(', ')}`;
  const there = source.prepare(sql).raw().iterate();
  const again = rebuilt.prepare(sql).raw().iterate();
  try {
    for (let rows = 0; ; rows += 1) {
      const a = there.next();
      const b = again.next();
      if (a.done && b.done) return rows;
      if (JSON.stringify(a.value) === JSON.stringify(b.value)) continue;
      findings.push({
        table,
        detail: `row ${rows + 1} differs from its events: ${shown(a.value)} is stored, ${shown(b.value)} follows from the events`,
      });
      return rows + 1;
    }
  } finally {
    // Else a connection that is still reading cannot be closed.
    there.return?.();
    again.return?.();
  }
}

function shown(row: unknown): string {
  return row === undefined ? 'nothing' : JSON.stringify(row).slice(0, 200);
}

/** Stored answers follow from no event; of a damaged one shows that it is no JSON any more. */
function checkAnswers(source: Database, findings: Finding[]): void {
  const damaged = source
    .prepare<[], number>('SELECT COUNT(*) FROM idempotency WHERE NOT json_valid(body)')
    .pluck()
    .get();
  if (damaged) findings.push({ table: 'idempotency', detail: `${damaged} answers are damaged` });
}
