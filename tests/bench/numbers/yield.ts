import BetterSqlite3 from 'better-sqlite3';
import { databaseFile } from '../../../src/config.js';
import { plantOfMotors } from '../history/build.js';
import { keyTo } from '../history/history-million.js';
import { get } from '../support/load.js';
import { type Bench, type BenchOptions, type Finding, figure, median } from '../support/report.js';
import { startServiceOn } from '../support/service.js';
import { ask } from '../tracing/ask.js';

const GOAL_MS = 10;
const GOAL_TIMES = 50;
const ASKED = 30;
const SCANS = 3;

/** Each slice that is asked for, with its query. */
const slices: Readonly<Record<string, string>> = {
  'the plant': 'by=plant',
  'by model': 'by=model',
  'by configuration': 'by=configuration',
  'by cell': 'by=cell',
  'by station': 'by=station',
  'by shift': 'by=shift',
  'by month': 'by=month',
  'by week of a year': 'by=week&fromDay=2023-01-01&untilDay=2023-12-31',
  'by day of a quarter': 'by=day&fromDay=2023-01-01&untilDay=2023-03-31',
  'by week of ten years': 'by=week',
  'by day of a year': 'by=day&fromDay=2023-01-01&untilDay=2023-12-31',
  'by day of ten years': 'by=day',
  'by day of ten years, one cell': 'by=day&cell=CELL-1',
  'by shift, one model, a configuration, ten years': 'by=shift&configuration=F100L-A',
  'by cell, days that cut months': 'by=cell&fromDay=2016-03-10&untilDay=2023-11-20',
  'by station, one cell, a quarter':
    'by=station&cell=CELL-1&fromDay=2023-01-01&untilDay=2023-03-31',
};

/** The same figure as a full computation, over every run. */
const fullScan = `
  SELECT r.cell, COUNT(*) AS firstRuns, SUM(r.first_pass) AS firstPasses
  FROM runs r
  JOIN units u ON u.id = r.motor_id
  WHERE r.attempt = 1
  GROUP BY r.cell`;

/** First-pass yield from the roll-up over HTTP, against a computation over all runs. */
async function yieldOfMillions(options: BenchOptions): Promise<Finding[]> {
  const motors = options.motors ?? (options.full ? 1_000_000 : 50_000);
  options.say(`a file of ${figure(motors)} motors`);
  const data = await plantOfMotors(motors);
  const token = await keyTo(data);
  const scanned = scanMs(databaseFile(data));
  options.say(`by cell over all runs in SQL: ${figure(scanned)} ms`);
  const service = await startServiceOn(data, { profile: options.profile });
  try {
    const findings: Finding[] = [];
    for (const [what, query] of Object.entries(slices)) {
      const times: number[] = [];
      for (let i = 0; i < ASKED; i += 1) {
        const call = get(token, `/v1/yield/first-pass?${query}`);
        times.push((await ask(service.address, call, 200)).ms);
      }
      findings.push(findingOf(what, median(times), scanned));
    }
    return findings;
  } finally {
    await service.stop();
  }
}

function scanMs(path: string): number {
  const db = new BetterSqlite3(path, { readonly: true });
  try {
    const statement = db.prepare(fullScan);
    return median(
      Array.from({ length: SCANS }, () => {
        const started = performance.now();
        statement.all();
        return performance.now() - started;
      }),
    );
  } finally {
    db.close();
  }
}

function findingOf(what: string, ms: number, scanned: number): Finding {
  const times = scanned / ms;
  return {
    what: `first-pass yield over HTTP, ${what}, median of ${ASKED}`,
    measured: `${figure(ms)} ms, ${figure(times)} times as fast as all runs in SQL`,
    goal: `under ${GOAL_MS} ms; of a million motors ${GOAL_TIMES} times`,
    met: ms < GOAL_MS && times >= GOAL_TIMES,
  };
}

export const yieldBench: Bench = {
  name: 'yield',
  about: 'first-pass yield of any slice of a large file, over HTTP',
  run: yieldOfMillions,
};
