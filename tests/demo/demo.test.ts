import { spawn } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { packageFile } from '../../src/package-root.js';
import { type Printed, readSummary } from './printed.js';

const DEMO_TIMEOUT_MS = 300_000;

/** Runs the compiled demo with a temporary folder of its own. */
function runDemo(
  temporary: string,
): Promise<{ code: number | null; text: string; errors: string }> {
  return new Promise((resolve, reject) => {
    const demo = spawn(process.execPath, [packageFile('dist', 'seed', 'demo.js'), '--exit'], {
      env: { ...process.env, TMPDIR: temporary },
    });
    const printed = { text: '', errors: '' };
    demo.stdout.on('data', (chunk: Buffer) => {
      printed.text += chunk.toString();
    });
    demo.stderr.on('data', (chunk: Buffer) => {
      printed.errors += chunk.toString();
    });
    demo.on('error', reject);
    demo.on('close', (code) => resolve({ code, ...printed }));
  });
}

const sum = (counts: Iterable<number>) => [...counts].reduce((all, one) => all + one, 0);

describe('the demo, run as npm run demo runs it', () => {
  const temporary = mkdtempSync(join(tmpdir(), 'skeg-demo-test-'));
  let ended: Awaited<ReturnType<typeof runDemo>>;
  let printed: Printed;
  beforeAll(async () => {
    ended = await runDemo(temporary);
    if (ended.code === 0) printed = readSummary(ended.text);
  }, DEMO_TIMEOUT_MS);
  afterAll(() => rmSync(temporary, { recursive: true, force: true }));

  it('ends well with --exit, says nothing on the error stream and leaves no file', () => {
    expect(ended.errors).toBe('');
    expect(ended.code).toBe(0);
    expect(readdirSync(temporary)).toEqual([]);
  });

  it('sets at least 300 motors of at least five models', () => {
    expect(printed.set).toBeGreaterThanOrEqual(300);
    expect(printed.models.length).toBeGreaterThanOrEqual(5);
  });

  it.each([
    'wrong-class',
    'serial-unknown',
    'scan-unreadable',
    'scan-part-mismatch',
    'not-accepted',
    'on-hold',
    'scrapped',
    'already-installed',
    'no-configuration',
    'attribute-conflict',
    'no-open-order',
    'order-unknown',
    'order-closed',
    'order-complete',
  ])('has a set refused for %s', (slug) => {
    expect(printed.refusedBecause.get(slug)).toBeGreaterThanOrEqual(1);
  });

  it('has failed and aborted runs, a cell that disagrees and a run taken over', () => {
    const share = printed.failedRuns / printed.runs.completed;
    expect(share).toBeGreaterThan(0.05);
    expect(share).toBeLessThan(0.1);
    expect(printed.runs.aborted).toBeGreaterThanOrEqual(2);
    expect(printed.disagreements).toBeGreaterThanOrEqual(1);
    expect(printed.takenOver).toBe(1);
  });

  it('has repairs, a retest, a concession, a scrap, a teardown, and motors that failed twice', () => {
    for (const outcome of ['repaired', 'no-fault-found', 'concession', 'scrapped']) {
      expect(printed.repairOutcomes.get(outcome), outcome).toBeGreaterThanOrEqual(1);
    }
    expect(printed.states.get('torn-down')).toBe(1);
    expect(printed.setAgain).toBe(1);
    expect(printed.loops.find((line) => line.loops === 2)?.motors).toBeGreaterThanOrEqual(1);
  });

  it('leaves a hold, lifts another and releases most of the motors', () => {
    expect(printed.held).toBeGreaterThanOrEqual(1);
    expect(printed.holdsLifted).toBeGreaterThanOrEqual(1);
    expect(printed.released).toBeGreaterThan(printed.set * 0.8);
  });

  it('prints figures that agree with each other', () => {
    expect(printed.set + printed.refused).toBe(printed.attempts);
    expect(sum(printed.refusedBecause.values())).toBe(printed.refused);
    expect(sum(printed.states.values())).toBe(printed.set);
    expect(printed.states.get('released')).toBe(printed.released);
    expect(printed.heldRows).toBe(printed.held);
    const { all, completed, aborted, open } = printed.runs;
    expect(completed + aborted + open).toBe(all);
    expect(printed.states.get('in-test') ?? 0).toBe(open);
    expect(sum(printed.repairOutcomes.values())).toBe(printed.repairs);
    expect(printed.repairs).toBe(printed.failedRuns);
  });

  it('counts the same motors in the yield and in the rework loops', () => {
    const firstRuns = sum(printed.models.map((line) => line.firstRuns));
    expect(sum(printed.loops.map((line) => line.motors))).toBe(firstRuns);
    expect(sum(printed.loops.map((line) => line.motors * (line.loops + 1)))).toBe(
      printed.runs.completed,
    );
  });

  it('prints each yield with its 95 % Wilson interval', () => {
    // E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209: the roots of (p - x/n)² = z² p(1 - p)/n.
    const z = 1.959964;
    for (const { model, firstRuns: n, passed, yieldPercent, lower, upper } of printed.models) {
      const share = passed / n;
      const middle = (share + (z * z) / (2 * n)) / (1 + (z * z) / n);
      const half =
        (z * Math.sqrt((share * (1 - share)) / n + (z * z) / (4 * n * n))) / (1 + (z * z) / n);
      // Printed to a tenth of a per cent.
      expect(Math.abs(yieldPercent - 100 * share), model).toBeLessThanOrEqual(0.051);
      expect(Math.abs(lower - 100 * (middle - half)), model).toBeLessThanOrEqual(0.051);
      expect(Math.abs(upper - 100 * (middle + half)), model).toBeLessThanOrEqual(0.051);
    }
  });

  it('tells the history of one motor that failed, was repaired, passed and was released', () => {
    const { story } = printed;
    for (const told of [
      /motor TB\d+\w/,
      / {6}powerhead P\d+/,
      /Set together as motor/,
      /attempt 1: fail/,
      /Repair \d+ closed/,
      /attempt \d: pass/,
      /Released to shipping/,
      /characteristic +reading +accepted +specified +margin/,
    ]) {
      expect(story).toMatch(told);
    }
    // A reading that failed has a negative margin.
    expect(story).toMatch(/ -0\.\d\d$/m);
  });

  it('says that all of it is invented', () => {
    expect(ended.text).toContain('All of this is invented');
  });
});
