import type { Caller } from './caller.js';
import { heading, table } from './layout.js';
import type { Staff } from './staff.js';

/** Where the service listens, with what keys, and what to try. */
export async function welcomeTo(staff: Staff, motor: string): Promise<string> {
  const { address } = staff.reader;
  const rows = keysToTry(staff).map(({ name, roles, token }) => [name, roles.join(', '), token]);
  return [
    heading(`The service still listens on ${address}`),
    table([{ title: 'key' }, { title: 'role' }, { title: 'token' }], rows),
    '\n  Try, in another terminal:',
    ...(await commands(staff, motor)).map((command) => `\n${command}`),
    `\n  Every address is described in ${address}/openapi.yaml`,
    '  Ctrl-C stops the service and deletes its temporary database.',
  ].join('\n');
}

/** One key of each role. */
function keysToTry(staff: Staff): Caller[] {
  const { admin, owner, quality, stations, cells, technicians, reader } = staff;
  return [reader, stations[0], cells[0], technicians[0], quality, owner, admin].filter(
    (one) => one !== undefined,
  );
}

interface NextToBuild {
  powerheads: { serial: string }[];
  lowerUnits: { serial: string }[];
}

async function commands({ reader, stations }: Staff, motor: string): Promise<string[]> {
  const { address } = reader;
  const get = (path: string) =>
    `curl -s '${address}${path}' \\\n  -H 'Authorization: Bearer ${reader.token}'`;
  const questions = [
    `  everything known of a serial:\n${get(`/v1/history?serial=${motor}`)}`,
    `  a table as CSV:\n${get('/v1/yield/first-pass?by=cell')} -H 'Accept: text/csv'`,
  ];
  const next = await reader.ask<NextToBuild>('/v1/orders/next');
  const [powerhead] = next.powerheads;
  const [lowerUnit] = next.lowerUnits;
  const [station] = stations;
  if (!powerhead || !lowerUnit || !station) return questions;
  const pair = { powerhead: powerhead.serial, lowerUnit: lowerUnit.serial, station: station.name };
  const set = `  set a pair; sent again under the same key it gives the same answer and sets nothing:
curl -s '${address}/v1/sets' \\
  -H 'Authorization: Bearer ${station.token}' \\
  -H 'Idempotency-Key: try-1' -H 'Content-Type: application/json' \\
  -d '${JSON.stringify(pair)}'`;
  return [...questions, set];
}
