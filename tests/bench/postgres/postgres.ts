import { join } from 'node:path';
import pg from 'pg';
import { packageFile } from '../../../src/package-root.js';
import {
  CONNECTIONS,
  type Completion,
  completionCalls,
  prepareRuns,
} from '../completion/material.js';
import { inFreshFolder } from '../support/folder.js';
import { assertStatuses, type Call, closedLoop } from '../support/load.js';
import {
  type Bench,
  type BenchOptions,
  type Finding,
  figure,
  median,
  note,
} from '../support/report.js';
import { startProgram, startServiceOn } from '../support/service.js';
import { type Cluster, serverPrograms, startCluster } from './cluster.js';
import { openRuns, tables } from './tables.js';

type Layout = 'rows' | 'packed';

/** The service against Express, pg and PostgreSQL, the three taking turns on the same readings. */
async function againstPostgres(options: BenchOptions, folder: string): Promise<Finding[]> {
  const programs = serverPrograms();
  if (!programs) {
    options.say('PostgreSQL is not installed (Debian: apt-get install postgresql); left out');
    return [note('service over Express + pg + PostgreSQL', 'left out: not installed')];
  }
  const rounds = options.full ? 11 : 7;
  const size = options.full ? 3200 : 1280;
  options.say(`preparing ${(rounds + 1) * size} open runs in each`);
  const material = await prepareRuns(folder, rounds + 1, size);
  const cluster = await startCluster(programs);
  try {
    await openRunsIn(cluster, 2 * (rounds + 1) * size);
    const rates = await takeTurns(options, material, cluster);
    return findingsOf(rates, cluster.version);
  } finally {
    await cluster.stop();
  }
}

async function openRunsIn(cluster: Cluster, count: number): Promise<void> {
  const client = new pg.Client(cluster.connection);
  await client.connect();
  await client.query(tables);
  for (const statement of openRuns) await client.query(statement, [count]);
  await client.query('VACUUM ANALYZE');
  await client.query('CHECKPOINT');
  await client.end();
}

type Rates = Record<'service' | Layout, number[]>;

async function takeTurns(
  options: BenchOptions,
  material: Awaited<ReturnType<typeof prepareRuns>>,
  cluster: Cluster,
): Promise<Rates> {
  const program = [packageFile('dist', 'tests', 'bench', 'postgres', 'app.js')];
  const service = await startServiceOn(material.data, { profile: options.profile });
  const app = await startProgram([...program, String(cluster.connection.host)], /listens on (\S+)/);
  const rates: Rates = { service: [], rows: [], packed: [] };
  const measure = async (address: string, calls: readonly Call[]) => {
    const { rate, statuses } = await closedLoop(address, calls, CONNECTIONS);
    assertStatuses(statuses, '200');
    return rate;
  };
  try {
    for (const [i, round] of material.rounds.entries()) {
      const own = await measure(service.address, completionCalls(material.token, round));
      const first = 1 + 2 * i * round.length;
      const rows = await measure(app.address, appCalls('rows', round, first));
      const packed = await measure(app.address, appCalls('packed', round, first + round.length));
      // The first round warms all of them up.
      if (i === 0) continue;
      rates.service.push(own);
      rates.rows.push(rows);
      rates.packed.push(packed);
      options.say(
        `round ${i}: service ${figure(own)}/s; PostgreSQL, readings as rows ${figure(rows)}/s, packed ${figure(packed)}/s`,
      );
    }
    return rates;
  } finally {
    await Promise.all([service.stop(), app.stop()]);
  }
}

/** The same bodies, for the application's own run numbers from `first` on. */
function appCalls(layout: Layout, round: readonly Completion[], first: number): Call[] {
  return completionCalls('none', round).map((call, i) => ({
    ...call,
    path: join('/', layout, String(first + i), 'completion'),
  }));
}

function findingsOf(rates: Rates, version: string): Finding[] {
  const rounds = `medians of ${rates.service.length} rounds`;
  const against = (layout: Layout, how: string): Finding => {
    const ratio = median(rates.service.map((rate, i) => rate / (rates[layout][i] ?? Number.NaN)));
    return {
      what: `service over Express + pg + PostgreSQL ${version.split(' ', 1)[0]}, ${how}`,
      measured: `${figure(ratio)} (${figure(median(rates[layout]))}/s)`,
      goal: 'at least 2',
      met: ratio >= 2,
    };
  };
  return [
    note(`runs completed by the service, ${rounds}`, `${figure(median(rates.service))}/s`),
    against('rows', 'readings as 40 rows'),
    against('packed', 'readings packed as the service does'),
  ];
}

export const postgresBench: Bench = {
  name: 'postgres',
  about: 'the same inserts by Express, pg and PostgreSQL',
  run: (options) => inFreshFolder((folder) => againstPostgres(options, folder)),
};
