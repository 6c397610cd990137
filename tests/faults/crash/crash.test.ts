import { existsSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { databaseFile } from '../../../src/config.js';
import { verifyDatabase } from '../../../src/journal/verify.js';
import { repeatable } from '../../bench/support/readings.js';
import { Program } from '../../support/program.js';
import { Lane, type Tally } from './lane.js';
import { type Template, templateIn } from './template.js';

/**
 * Kills of the built service in one run; SKEG_CRASHES=5000 goes on for longer.
 * SKEG_CRASH_SEED brings back a run's commands and the moments of its kills, though not to
 * the microsecond, since processes and disks do not repeat: a failure also keeps its files.
 */
const kills = Number(process.env.SKEG_CRASHES ?? 200);
const seed = Number(process.env.SKEG_CRASH_SEED ?? 20261125);
/** Services killed side by side: while one starts, which takes longest, another works. */
const LANES = 2;
const LANE_SEEDS = 100_000;
/** Far above what a kill takes: only a hang comes so far. */
const KILL_MS = 20_000;

let root: string;
let template: Template;
let passed = false;
beforeAll(async () => {
  root = mkdtempSync(join(tmpdir(), 'skeg-crash-'));
  template = await templateIn(join(root, 'template'));
});
afterAll(() => {
  if (passed) rmSync(root, { recursive: true, force: true });
});

describe('the service, killed at any moment', () => {
  it(`keeps what it answered and does the rest once or not at all, ${kills} times over`, {
    timeout: kills * KILL_MS,
  }, async () => {
    const begun = performance.now();
    const lanes = Array.from({ length: LANES }, (_, i) => {
      const folder = join(root, `lane-${i}`);
      mkdirSync(folder);
      const share = Math.floor(kills / LANES) + (i < kills % LANES ? 1 : 0);
      return new Lane({ template, folder, seed: seed + i * LANE_SEEDS, kills: share });
    });
    await Promise.all(lanes.map((lane) => lane.run())).catch((error: Error) => {
      throw new Error(`SKEG_CRASH_SEED=${seed}: ${error.message}`, { cause: error });
    });
    const tallies = lanes.map((lane) => lane.tally);
    const seconds = Math.round((performance.now() - begun) / 1000);
    console.log(`SKEG_CRASH_SEED=${seed}, ${seconds} s: ${summaryOf(tallies)}`);
    expect(sumOf(tallies, 'kills')).toBe(kills);
    // Else the kills came when nothing was going on, and nothing was shown.
    expect(sumOf(tallies, 'answered')).toBeGreaterThan(kills * 3);
    expect(sumOf(tallies, 'replayed')).toBeGreaterThan(0);
    expect(sumOf(tallies, 'carriedOut')).toBeGreaterThan(0);
    passed = true;
  });

  it('makes up for a first start that was killed on its way', { timeout: 120_000 }, async () => {
    const random = repeatable(seed);
    const data = join(root, 'first');
    for (let i = 0; i < 4; i += 1) {
      const program = Program.serve(data);
      while (!existsSync(databaseFile(data))) await sleep(1);
      await sleep(random() * 30);
      await program.kill();
    }
    const program = Program.serve(data);
    await program.address();
    await program.stop();
    expect(verifyDatabase(databaseFile(data)).findings).toEqual([]);
  });
});

type Counted = Exclude<keyof Tally, 'starting'>;

function sumOf(tallies: readonly Tally[], of: Counted): number {
  return tallies.reduce((sum, tally) => sum + tally[of], 0);
}

function summaryOf(tallies: readonly Tally[]): string {
  const starts = tallies.flatMap((tally) => tally.starting).sort((a, b) => a - b);
  const sum = (of: Counted) => sumOf(tallies, of);
  return (
    `${sum('kills')} kills, ${sum('whileStarting')} of them while starting; ` +
    `${sum('answered')} commands answered, ${sum('replayed')} done and not answered, ` +
    `${sum('carriedOut')} not done; half of all starts took less than ` +
    `${Math.round(starts[starts.length >> 1] ?? 0)} ms`
  );
}
