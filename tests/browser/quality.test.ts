import { readFileSync } from 'node:fs';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeQualityPlant, type QualityPlant } from './quality-plant.js';
import {
  chromiumPath,
  faultsInAllLooks,
  faultsInTwoLooks,
  openAs,
  openBrowser,
  PATIENCE,
  type Visit,
} from './support.js';

describe.skipIf(chromiumPath === undefined)('the quality screen (a browser)', PATIENCE, () => {
  let made: QualityPlant;
  let browser: Browser;
  let visitor: Visit;
  let page: Page;
  beforeAll(async () => {
    [made, browser] = await Promise.all([makeQualityPlant(), openBrowser()]);
    visitor = await openAs(browser, made.plant, 'quality', '/quality');
    ({ page } = visitor);
  });
  afterAll(async () => {
    await browser.close();
    await made.plant.stop();
  });

  const get = async (address: string) => (await made.plant.get('read', address)).body;

  /** Waits until every question of a page has its answer. */
  async function answered(of: Page): Promise<void> {
    await of.locator('.asked').first().waitFor();
    await expect.poll(() => of.locator('.asked:not([aria-busy="false"])').count()).toBe(0);
  }
  async function open(address: string): Promise<void> {
    await page.goto(address);
    await answered(page);
  }
  const panel = (id: string) => page.locator(`#${id}`);
  async function asTable(id: string): Promise<Locator> {
    await panel(id).locator('summary').click();
    return panel(id).locator('details table');
  }
  const rowsOf = async (table: Locator) => {
    const rows = await table.locator('tbody tr').all();
    return Promise.all(rows.map((row) => row.locator('th, td').allTextContents()));
  };
  const serials = () => page.locator('a.serial').allTextContents();
  /** Follows a mark of a drawing as a keyboard does: focus it, press Enter. */
  async function follow(mark: Locator): Promise<void> {
    await mark.focus();
    await page.keyboard.press('Enter');
    await page.waitForURL(/behind|runs/);
  }

  describe('yield', () => {
    it('leads from a day’s yield to its motors, and from each to its history', async () => {
      await open('/quality?by=day');
      const { items } = await get('/v1/yield/first-pass?by=day');
      const marks = panel('over-time').locator('svg a');
      // Each of the nine days has a dot of both yields.
      expect(items).toHaveLength(9);
      expect(await marks.count()).toBe(18);
      const rows = await rowsOf(await asTable('over-time'));
      expect(rows.map((row) => row.slice(1, 4))).toEqual(
        items.map((one: { firstRuns: number; firstPasses: number; firstPassYield: number }) => [
          String(one.firstRuns),
          String(one.firstPasses),
          `${(one.firstPassYield * 100).toFixed(1)}%`,
        ]),
      );
      // The sixth motor, on the second day, is the first one that fails.
      const name = '2026-03-03: 75.0%, 3 of 4 motors';
      await follow(panel('over-time').getByRole('link', { name, exact: true }));
      await answered(page);
      const { items: motors } = await get(
        '/v1/yield/motors?fromDay=2026-03-03&untilDay=2026-03-03',
      );
      expect(await serials()).toEqual(motors.map((one: { serial: string }) => one.serial));
      expect(await serials()).toContain(made.failed[0]);
      expect(await page.locator('a.serial').first().getAttribute('href')).toBe(
        `/history?serial=${motors[0].serial}&class=motor`,
      );
    });

    it('keeps its filter in an address, set by keyboard', async () => {
      await open('/quality');
      await page.getByLabel('Test cell').focus();
      await page.keyboard.type('C-2');
      await page.getByLabel('Over time by').focus();
      await page.keyboard.type('week');
      await page.getByLabel('Until day, included').focus();
      await page.keyboard.press('Enter');
      await page.waitForURL(/cell=C-2/);
      await answered(page);
      expect(new URL(page.url()).searchParams.get('by')).toBe('week');
      const { items } = await get('/v1/yield/first-pass?by=week&cell=C-2');
      const rows = await rowsOf(await asTable('over-time'));
      expect(rows.map(([slice]) => slice)).toEqual(
        items.map((one: { slice: string }) => one.slice),
      );
      await page.getByRole('link', { name: 'What fails' }).click();
      await page.waitForURL(/\/quality\/pareto\?.*cell=C-2/);
      expect(await page.getByLabel('Test cell').inputValue()).toBe('C-2');
    });

    it('is to be had as CSV, the same as from the interface', async () => {
      await open('/quality?fromDay=&untilDay=');
      const [download] = await Promise.all([
        page.waitForEvent('download'),
        panel('side-by-side').getByRole('link', { name: 'The same as CSV' }).click(),
      ]);
      const headers = { Accept: 'text/csv' };
      const answer = await made.plant.get('read', '/v1/yield/first-pass?by=model', { headers });
      expect(readFileSync(await download.path(), 'utf8')).toBe(answer.text);
      const call = panel('side-by-side').getByRole('link', { name: 'The call that gave this' });
      expect(await call.getAttribute('href')).toBe('/v1/yield/first-pass?by=model');
    });
  });

  it('what fails: bars with cumulative shares, each leading to its motors', async () => {
    await open('/quality/pareto');
    expect(await rowsOf(await asTable('of-cause'))).toEqual([
      // Two repairs found the hose, one the impeller: see quality-plant.ts.
      ['hose', '2', '66.7%', '66.7%'],
      ['impeller', '1', '33.3%', '100.0%'],
    ]);
    await follow(panel('of-cause').locator('svg a').last());
    await answered(page);
    expect(await serials()).toEqual([made.failed[0]]);
  });

  it('rework: loops, times, waiting and cures', async () => {
    await open('/quality/rework');
    // Three motors were run once more; the hours between are two and a minute of the run.
    expect((await rowsOf(await asTable('loops'))).map((row) => row.slice(0, 2))).toEqual([
      ['0', '37'],
      ['1', '3'],
    ]);
    expect((await rowsOf(await asTable('times')))[0]?.slice(0, 3)).toEqual(['F100L', '3', '2.0']);
    expect((await rowsOf(await asTable('cures')))[0]?.slice(0, 6)).toEqual([
      'water-pressure',
      'replaced',
      '3',
      '3',
      '2',
      '66.7%',
    ]);
    // The motor that failed again and the one that nobody repaired.
    const waiting = await rowsOf(await asTable('waiting'));
    expect(waiting.reduce((sum, row) => sum + Number(row[1]), 0)).toBe(2);
    await panel('waiting').locator('details a').first().click();
    await answered(page);
    expect(made.failed).toContain((await serials())[0]);
  });

  it('capability: limits apart, which indices to read, and the motors beyond a limit', async () => {
    await open('/quality/capability');
    await page.getByRole('link', { name: 'Water pressure at idle' }).click();
    await page.waitForURL(/characteristic=water-pressure/);
    await answered(page);
    const answer = await get('/v1/capability?model=F100L&characteristic=water-pressure');
    const said = await panel('one').textContent();
    expect(said).toContain(answer.method.why);
    const { cpk } = answer.acceptance.within;
    expect(said).toContain(
      `${cpk.estimate.toFixed(2)} (${cpk.lower.toFixed(2)} to ${cpk.upper.toFixed(2)})`,
    );
    // 50 to 150 narrowed by the guard band of 5: see scenario.ts.
    expect(said).toContain('Against the specification: 50 to 150');
    expect(said).toContain('Against the acceptance limits: 55 to 145');
    expect(await panel('one').locator('svg a').count()).toBeGreaterThan(4);
    await panel('one')
      .getByRole('link', { name: /^4 \(10/ })
      .first()
      .click();
    await answered(page);
    expect(await serials()).toEqual(made.failed);
  });

  it('cells: in words whether they differ, with every mean', async () => {
    await open('/quality/cells?characteristic=idle-speed');
    const answer = await get('/v1/cells/comparison?model=F100L&characteristic=idle-speed');
    const said = await panel('comparison').textContent();
    expect(said).toContain(
      answer.welch.pValue < 0.05 ? 'differ by more than chance' : 'Chance explains',
    );
    for (const one of answer.cells) expect(said).toContain(one.mean.toFixed(2));
    // A dot of each cell, and of each of its weeks.
    const marks = answer.cells.length + answer.weeks.length;
    expect(await panel('comparison').locator('svg a').count()).toBe(marks);
  });

  it('limit trial: the verdicts that a draft would change, and the motors they are of', async () => {
    await open(`/quality/trial?specification=${made.draft}`);
    const answer = await get(`/v1/specifications/${made.draft}/trial`);
    const { passToPass, passToFail } = answer.verdicts;
    const verdicts = await rowsOf(panel('trial').locator('table').first());
    expect(verdicts[0]).toEqual(['Passed', String(passToPass.runs), String(passToFail.runs)]);
    expect(passToFail.runs).toBeGreaterThan(0);
    await panel('trial')
      .locator('table')
      .first()
      .getByRole('link', { name: String(passToFail.runs), exact: true })
      .click();
    await answered(page);
    expect(await serials()).toHaveLength(passToFail.runs);
  });

  describe('control charts', () => {
    it('shows signals by shape, leading to the motor, and takes an acknowledgement', async () => {
      await open(`/quality/charts/${made.chart}`);
      const { items } = await get(`/v1/charts/${made.chart}/points`);
      const marks = page.locator('#points-chart-0 svg a');
      expect(await marks.count()).toBe(items.length);
      await follow(marks.filter({ hasText: '697' }));
      expect(await serials()).toEqual([made.outlier]);
      await open(`/quality/charts/${made.chart}`);
      await page.getByLabel('What was found and done').fill('Throttle stop was loose; set again');
      await page.getByLabel('The open signals of this chart before it too').check();
      await page.keyboard.press('Tab');
      await page.keyboard.press('Enter');
      await page.getByText('3 signals are acknowledged').waitFor();
      expect((await get('/v1/signals?state=open')).items).toEqual([]);
      expect(await panel('signals').textContent()).toContain('Throttle stop was loose; set again');
      expect(await page.locator('#acknowledge-form').count()).toBe(0);
    });

    it('opens one by the keyboard, and tells a refusal in its own words', async () => {
      await page.goto('/quality/charts');
      await page.locator('#opening summary').focus();
      await page.keyboard.press('Enter');
      await page.getByLabel('Baseline: the last so many values').fill('20');
      await page.locator('#open-cell').fill('NOWHERE');
      await page.keyboard.press('Enter');
      await page.locator('#answer-urgent .answer').waitFor();
      expect(await page.locator('#answer-urgent').textContent()).toContain('Refused');
      await page.locator('#open-cell').fill('');
      await page.keyboard.press('Enter');
      await page.getByText(/Chart \d+ is open/).waitFor();
      expect((await get('/v1/charts')).items).toHaveLength(2);
      // The browser reports a command that was refused.
      visitor.complaints.splice(0);
    });

    it('freezes new limits, and retires a chart, each with a reason', async () => {
      const { items } = (await get('/v1/charts')) as { items: { id: number }[] };
      const own = items.find((one) => one.id !== made.chart)?.id ?? 0;
      await open(`/quality/charts/${own}`);
      await page.locator('#changing summary').focus();
      await page.keyboard.press('Enter');
      await page.locator('#new-last').fill('25');
      await page.locator('#new-reason').fill('Other pump since March');
      await page.keyboard.press('Enter');
      await page.locator('#answer-calm .answer').waitFor();
      const { body } = await made.plant.get('read', `/v1/charts/${own}`);
      expect(body.baselines).toHaveLength(2);
      expect(body.baselines[1]).toMatchObject({ reason: 'Other pump since March' });
      await open(`/quality/charts/${own}`);
      await page.locator('#changing summary').focus();
      await page.keyboard.press('Enter');
      await page.locator('#retire-reason').fill('Line closed');
      await page.keyboard.press('Enter');
      await page.locator('#answer-calm .answer').waitFor();
      await open(`/quality/charts/${own}`);
      expect(await page.locator('#changing').count()).toBe(0);
      expect(await page.locator('main').textContent()).toContain('Line closed');
    });

    it('offers nothing to send to those who may only read', async () => {
      const reader = await openAs(browser, made.plant, 'read', `/quality/charts/${made.chart}`);
      await answered(reader.page);
      expect(await reader.page.locator('main form[id]').count()).toBe(0);
      expect(reader.complaints).toEqual([]);
      await reader.context.close();
    });
  });

  it('tells why a question has no answer', async () => {
    await open('/quality/capability?model=NO-SUCH');
    expect(await panel('overview').textContent()).toContain('There is no model NO-SUCH.');
    visitor.complaints.splice(0);
    await page.goto('/quality/nothing');
    expect(await page.locator('main').textContent()).toContain('There is nothing at this address');
    visitor.complaints.splice(0);
  });

  it('is open to everybody who is told of it (WCAG 2.2 AA), in all looks', async () => {
    await open(`/quality/charts/${made.chart}`);
    expect(await faultsInAllLooks(page, 'quality-chart')).toEqual([]);
    const motors = encodeURIComponent('/v1/yield/motors?cell=C-1');
    const others = {
      yield: '',
      pareto: '/pareto',
      rework: '/rework',
      cells: '/cells',
      capability: '/capability?characteristic=water-pressure',
      trial: '/trial',
      charts: '/charts',
      behind: `/behind?of=${motors}`,
      runs: '/runs?run=1,2,3',
    };
    for (const [name, address] of Object.entries(others)) {
      await page.goto(`/quality${address}`);
      if ((await page.locator('.asked').count()) > 0) await answered(page);
      expect(await faultsInTwoLooks(page, `quality-${name}`)).toEqual([]);
    }
    expect(visitor.complaints).toEqual([]);
  });
});
