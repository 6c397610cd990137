import { chmodSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { findBrowser, Printer, QUEUE_LIMIT } from '../../src/report/printer.js';
import { OverloadedError } from '../../src/store/errors.js';
import { TestPlant } from '../support/plant.js';
import { furnish, setMotor } from '../support/scenario.js';

const browser = await findBrowser(process.env);
const ownSetting = process.env.SKEG_BROWSER;

describe('the report as PDF', () => {
  let plant: TestPlant;
  let motor: string;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    ({ motor } = await setMotor(plant));
  });
  afterAll(() => plant.stop());
  afterEach(() => {
    if (ownSetting === undefined) delete process.env.SKEG_BROWSER;
    else process.env.SKEG_BROWSER = ownSetting;
  });

  const pdf = (query = '') =>
    plant.get('read', `/v1/report?serial=${motor}${query}`, {
      headers: { Accept: 'application/pdf' },
      undocumented: true,
    });

  it('is refused with a sentence where there is no browser', async () => {
    process.env.SKEG_BROWSER = '/nowhere/at/all';
    const answer = await plant.get('read', `/v1/report?serial=${motor}`, {
      headers: { Accept: 'application/pdf' },
    });
    expect(answer.status).toBe(406);
    expect(answer.body.type).toBe('/problems/not-acceptable');
    expect(answer.body.detail).toMatch(/^No browser .* ask for text\/html and print that/);
  });

  it('is HTML for a caller that would rather have that, browser or none', async () => {
    process.env.SKEG_BROWSER = '/nowhere/at/all';
    const answer = await plant.get('read', `/v1/report?serial=${motor}`, {
      headers: { Accept: 'text/html, application/pdf;q=0.5' },
      undocumented: true,
    });
    expect(answer.headers['content-type']).toBe('text/html; charset=utf-8');
  });

  it.skipIf(browser === undefined)(
    'is printed on A4, or on Letter where asked, and leaves no file behind (needs a browser)',
    async () => {
      const left = () => readdirSync(tmpdir()).filter((name) => name.startsWith('skeg-report-'));
      const before = left();
      const [a4, letter] = [await pdf(), await pdf('&paper=letter')];
      for (const answer of [a4, letter]) {
        expect(answer.status).toBe(200);
        expect(answer.headers['content-type']).toBe('application/pdf');
        expect(answer.body.subarray(0, 5).toString('latin1')).toBe('%PDF-');
      }
      // ISO 216: A4 is 210 mm by 297 mm, which is 595 by 842 points; Letter is 8.5 by 11 inches.
      expect(a4.body.toString('latin1')).toMatch(/\/MediaBox \[0 0 59[45][.\d]* 84[12][.\d]*\]/);
      expect(letter.body.toString('latin1')).toMatch(/\/MediaBox \[0 0 612 792\]/);
      expect(left()).toEqual(before);
    },
    60_000,
  );

  if (browser === undefined) {
    console.info('No browser was found here, so printing a PDF was not tried.');
  }
});

describe('the printer', () => {
  const folder = mkdtempSync(join(tmpdir(), 'skeg-test-'));
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  /** A stand-in for a browser: a shell script that gets its arguments. */
  function standIn(name: string, script: string): string {
    const path = join(folder, name);
    writeFileSync(path, `#!/bin/sh\n${script}\n`);
    chmodSync(path, 0o755);
    return path;
  }
  const writesTarget = `for one in "$@"; do case "$one" in --print-to-pdf=*) target="\${one#*=}";; esac; done
cp report.html "$target"`;

  it('finds the program that is named, by path or on PATH, and no other in its place', async () => {
    const path = standIn('some-browser', 'exit 0');
    expect(await findBrowser({ SKEG_BROWSER: path })).toBe(path);
    expect(await findBrowser({ SKEG_BROWSER: 'some-browser', PATH: folder })).toBe(path);
    expect(await findBrowser({ SKEG_BROWSER: 'no-such', PATH: folder })).toBeUndefined();
    expect(await findBrowser({ PATH: folder })).toBeUndefined();
    const usual = standIn('chromium', 'exit 0');
    expect(await findBrowser({ PATH: folder })).toBe(usual);
  });

  it('prints one after the other, and turns away more than may wait', async () => {
    const log = join(folder, 'log');
    const slow = standIn(
      'slow',
      `echo in >> ${log}\nsleep 0.05\n${writesTarget}\necho out >> ${log}`,
    );
    const printer = new Printer();
    const waiting = Array.from({ length: QUEUE_LIMIT }, (_, i) => printer.print(slow, `page ${i}`));
    await expect(printer.print(slow, 'one too many')).rejects.toBeInstanceOf(OverloadedError);
    const printed = await Promise.all(waiting);
    expect(printed.map(String)).toEqual(waiting.map((_, i) => `page ${i}`));
    const { readFileSync } = await import('node:fs');
    expect(readFileSync(log, 'utf8')).toBe('in\nout\n'.repeat(QUEUE_LIMIT));
    expect(String(await printer.print(slow, 'later'))).toBe('later');
  });

  it('goes on after a browser that failed, and hands it none of the service’s environment', async () => {
    const printer = new Printer();
    await expect(printer.print(standIn('bad', 'exit 3'), 'x')).rejects.toThrow();
    await expect(printer.print(standIn('idle', 'exit 0'), 'x')).rejects.toThrow('ENOENT');
    process.env.SKEG_SECRET = 'not for browsers';
    const tells = standIn('tells', `env > report.html\n${writesTarget}`);
    expect(String(await printer.print(tells, 'x'))).not.toContain('not for browsers');
    delete process.env.SKEG_SECRET;
  });
});
