import { randomUUID } from 'node:crypto';
import { Agent } from 'node:http';
import { type Answer, ask, type Call, get, post } from '../support/load.js';
import { MODEL } from '../support/plant.js';
import { repeatable } from '../support/readings.js';
import {
  type Bench,
  type BenchOptions,
  type Finding,
  figure,
  latencies,
} from '../support/report.js';
import { startServiceOn } from '../support/service.js';
import { plantOfMotors, serialIn } from './build.js';
import { keyTo } from './history-million.js';

const GOAL_MS = 200;
const ASKED = 30;
/** Runs behind one mark of a chart, more than which no address holds. */
const RUNS_BEHIND = 1000;

/** Every page of every screen of a large file, from request to its last byte, signed in. */
async function pagesOfMillions(options: BenchOptions): Promise<Finding[]> {
  const motors = options.motors ?? (options.full ? 1_000_000 : 50_000);
  options.say(`a file of ${figure(motors)} motors`);
  const data = await plantOfMotors(motors);
  const token = await keyTo(data);
  const random = repeatable(19);
  const any = () => serialIn(motors, Math.floor(random() * motors));
  const of = `model=${MODEL}`;
  const runs = Array.from({ length: RUNS_BEHIND }, (_, i) => 1 + i * 37).join(',');
  const behind = encodeURIComponent('/v1/yield/motors?cell=CELL-1');
  const service = await startServiceOn(data, { profile: options.profile });
  const agent = new Agent({ keepAlive: true });
  try {
    const chart = await chartIn(service.address, token, agent);
    const pages: Record<string, () => string> = {
      'set station': () => '/set-station?station=SET-1',
      'test cell': () => '/test-cell?cell=CELL-1',
      'repair bench': () => '/repair-bench',
      'a repair': () => '/repair-bench/7',
      history: () => `/history?serial=${any()}`,
      'history then': () => `/history?serial=${any()}&asOf=2024-01-01T00:00:00Z`,
      catalogue: () => '/catalogue',
      'a model': () => `/catalogue/models/${MODEL}`,
      'a configuration': () => '/catalogue/configurations/1',
      'a specification': () => '/catalogue/specifications/1',
      'a draft of a specification': () => `/catalogue/models/${MODEL}/specification`,
      'yield, all days': () => '/quality?fromDay=&untilDay=',
      'what fails, all days': () => '/quality/pareto?fromDay=&untilDay=',
      'rework, all days': () => '/quality/rework?fromDay=&untilDay=',
      'cells compared': () => `/quality/cells?${of}&characteristic=idle-voltage`,
      capability: () => `/quality/capability?${of}&characteristic=idle-voltage`,
      'control charts': () => '/quality/charts',
      'a control chart': () => `/quality/charts/${chart}`,
      'limit trial': () => '/quality/trial',
      'runs behind a mark': () => `/quality/runs?run=${runs}`,
      'motors behind a figure': () => `/quality/behind?of=${behind}`,
      live: () => '/live',
      'motors in a state': () => '/live/in-repair',
    };
    const cookie = await signIn(service.address, token, agent);
    const findings: Finding[] = [];
    for (const [name, address] of Object.entries(pages)) {
      const times: number[] = [];
      for (let i = 0; i < ASKED; i += 1) {
        const { status, ms, body } = await ask(service.address, page(address(), cookie), agent);
        if (status !== 200) throw new Error(`${name} was answered with ${status}: ${body}`);
        times.push(ms);
      }
      findings.push(findingOf(name, times));
    }
    return findings;
  } finally {
    agent.destroy();
    await service.stop();
  }
}

/** A chart of the file: the first that it has, or one that is opened now. */
async function chartIn(address: string, token: string, agent: Agent): Promise<number> {
  const found = await ask(address, get(token, '/v1/charts?limit=1'), agent);
  const [chart] = (JSON.parse(found.body) as { items: { id: number }[] }).items;
  if (chart) return chart.id;
  const draft = { kind: 'individuals', model: MODEL, characteristic: 'idle-voltage', runs: 'all' };
  const body = { ...draft, baseline: { fromDay: '2023-01-01', untilDay: '2023-01-31' } };
  const opened = await ask(address, post(token, '/v1/charts', randomUUID(), body), agent);
  if (opened.status !== 201) throw new Error(`no chart was opened: ${opened.body}`);
  return (JSON.parse(opened.body) as { id: number }).id;
}

function page(path: string, cookie: string): Call {
  return { ...get('', path), headers: { cookie, accept: 'text/html' } };
}

async function signIn(address: string, token: string, agent: Agent): Promise<string> {
  const headers = {
    'content-type': 'application/x-www-form-urlencoded',
    'sec-fetch-site': 'same-origin',
  };
  const body = new URLSearchParams({ token, to: '/' }).toString();
  const answer: Answer = await ask(
    address,
    { method: 'POST', path: '/sign-in', headers, body },
    agent,
  );
  return String(answer.headers['set-cookie']).split(';')[0] ?? '';
}

function findingOf(name: string, times: readonly number[]): Finding {
  const { text } = latencies(times);
  const slowest = Math.max(...times);
  return {
    what: `page ${name}, ${ASKED} times`,
    measured: text,
    goal: `each under ${GOAL_MS} ms`,
    met: slowest < GOAL_MS,
  };
}

export const pagesBench: Bench = {
  name: 'pages',
  about: "every screen's page of a large file, server time",
  run: pagesOfMillions,
};
