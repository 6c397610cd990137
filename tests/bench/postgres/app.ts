import { createHash } from 'node:crypto';
import type { AddressInfo } from 'node:net';
import express from 'express';
import pg from 'pg';
import { z } from 'zod';
import { CONNECTIONS } from '../completion/material.js';
import { completion } from './tables.js';

/**
 * The usual way to build it: Express, zod, a pool, one transaction a request with as few
 * statements as reading well allows, all prepared. It makes the service's inserts; to its
 * advantage it asks for no API key, judges nothing and keeps no hash chain.
 */
const body = z.strictObject({
  readings: z
    .array(
      z.strictObject({
        code: z.string().max(40),
        value: z.union([z.number(), z.boolean()]),
        unit: z.string().max(40).optional(),
      }),
    )
    .min(1)
    .max(10_000),
  batches: z.int(),
  cellVerdict: z.enum(['pass', 'fail']),
});
type Body = z.output<typeof body>;
type Layout = 'rows' | 'packed';

const layouts = z.enum(['rows', 'packed']);
const READING_BYTES = 11;
const JUDGED_BYTES = 8;

async function complete(
  client: pg.PoolClient,
  layout: Layout,
  run: number,
  key: string,
  sent: Body,
): Promise<string> {
  const ask = <R extends pg.QueryResultRow>(name: keyof typeof completion, values: unknown[]) =>
    client.query<R>({ name, text: completion[name], values });
  const judged = Buffer.alloc(sent.readings.length * JUDGED_BYTES);
  const { rows } = await ask<{ motor_id: string; cell: string }>('run', [
    run,
    sent.cellVerdict,
    judged,
  ]);
  const [open] = rows;
  if (!open) throw new Error(`run ${run} is not open`);
  await addReadings(ask, layout, run, sent);
  const about = JSON.stringify([open.motor_id]);
  const events = await ask<{ seq: string }>('events', [
    open.cell,
    about,
    JSON.stringify({
      id: run,
      batch: { sequence: 1, count: sent.readings.length },
      attempt: 1,
      verdict: 'pass',
      cellVerdict: sent.cellVerdict,
    }),
  ]);
  await ask('eventUnits', [open.motor_id, events.rows[0]?.seq]);
  await ask('unit', [open.motor_id]);
  await ask('motor', [open.motor_id, run, open.cell]);
  await ask('series', [run]);
  const answer = JSON.stringify({ run, attempt: 1, verdict: 'pass', failed: [] });
  const fingerprint = createHash('sha256').update(JSON.stringify(sent)).digest();
  await ask('idempotency', [key, fingerprint, answer]);
  // Last, since counts that all runs share stay locked until the commit.
  await ask('roll', [open.cell]);
  return answer;
}

function addReadings(
  ask: (name: Layout, values: unknown[]) => Promise<unknown>,
  layout: Layout,
  run: number,
  { readings }: Body,
): Promise<unknown> {
  if (layout === 'packed') {
    return ask('packed', [run, Buffer.alloc(readings.length * READING_BYTES)]);
  }
  return ask('rows', [
    run,
    readings.map((one) => one.code),
    readings.map((one) => Number(one.value)),
    readings.map((one) => one.unit ?? null),
  ]);
}

function serve(socketFolder: string): void {
  const pool = new pg.Pool({
    host: socketFolder,
    user: 'bench',
    database: 'postgres',
    max: CONNECTIONS,
  });
  const app = express();
  app.disable('etag');
  app.disable('x-powered-by');
  app.post('/:layout/:run/completion', express.json(), async (req, res) => {
    const layout = layouts.parse(req.params.layout);
    const sent = body.parse(req.body);
    const key = String(req.headers['idempotency-key']);
    const client = await pool.connect();
    try {
      await client.query('BEGIN');
      const answer = await complete(client, layout, Number(req.params.run), key, sent);
      await client.query('COMMIT');
      res.type('json').send(answer);
    } catch (error) {
      await client.query('ROLLBACK');
      throw error;
    } finally {
      client.release();
    }
  });
  const server = app.listen(0, '127.0.0.1', () => {
    console.log(`listens on http://127.0.0.1:${(server.address() as AddressInfo).port}`);
  });
  process.on('SIGTERM', () => {
    server.closeAllConnections();
    server.close(() => pool.end().then(() => process.exit(0)));
  });
}

serve(process.argv[2] ?? '');
