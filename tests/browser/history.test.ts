import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failing,
  furnish,
  holdBecause,
  order,
  passing,
  runMotor,
  setMotor,
} from '../support/scenario.js';
import {
  chromiumPath,
  faultsInAllLooks,
  openAs,
  openBrowser,
  PATIENCE,
  scan as scanOn,
  type Visit,
} from './support.js';

const reading = (value: number) => [
  { code: 'idle-speed', value: 620 + value },
  { code: 'water-pressure', value: 70 + value },
  { code: 'telltale', value: true },
];

describe.skipIf(chromiumPath === undefined)('the history (needs a browser)', PATIENCE, () => {
  let plant: TestPlant;
  let browser: Browser;
  let visitor: Visit;
  let page: Page;
  /** Failed, repaired, passed, released; its powerhead carries a pump and a lot. */
  const made = { motor: '', powerhead: '', lowerUnit: '', pump: '', firstRun: 0, secondRun: 0 };
  /** Before the repair, when the failed run had just ended. */
  let failedAt = '';

  beforeAll(async () => {
    [plant, browser] = await Promise.all([TestPlant.start(), openBrowser()]);
    await furnish(plant);
    await arrangeMotor();
    for (let i = 0; i < 30; i += 1) {
      const { motor } = await setMotor(plant);
      await runMotor(plant, motor, reading((i * 7) % 31));
    }
  });
  afterAll(async () => {
    await browser.close();
    await plant.stop();
  });
  beforeEach(async () => {
    visitor = await openAs(browser, plant, 'quality', '/history');
    ({ page } = visitor);
    return () => visitor.context.close();
  });

  async function arrangeMotor(): Promise<void> {
    made.pump = await enter(plant, 'fuel-pump');
    made.lowerUnit = await enter(plant, 'lower-unit', {
      lots: [{ part: 'PRIMER', revision: '1', lot: 'LOT-7' }],
    });
    made.powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: made.pump }],
    });
    const number = await order(plant);
    plant.wait(1000);
    const { powerhead, lowerUnit } = made;
    const body = { powerhead, lowerUnit, order: number, station: 'SET-1' };
    made.motor = (await plant.make<{ motor: string }>('set', '/v1/sets', body)).motor;
    const failed = await runMotor(plant, made.motor, failing);
    failedAt = new Date(plant.now).toISOString();
    await closeRepair(plant, failed.repair ?? 0);
    const passed = await runMotor(plant, made.motor, passing);
    [made.firstRun, made.secondRun] = [failed.run, passed.run];
    plant.wait(60_000);
    await plant.make('quality', '/v1/releases', { motors: [made.motor] });
  }

  const scan = (text: string) => scanOn(page, text);
  const region = (id: string) => page.locator(`#${id}`);
  const textOf = async (id: string) => (await region(id).textContent()) ?? '';

  it('leads from a scan to what a motor is made of and all that happened to it', async () => {
    await scan(made.motor);
    await page.getByRole('heading', { level: 1, name: `Motor ${made.motor}` }).waitFor();
    expect(new URL(page.url()).searchParams.get('serial')).toBe(made.motor);
    const tree = region('tree');
    expect(await tree.locator('ul.tree > li > ul > li').count()).toBe(2);
    expect(await tree.locator('li li li').textContent()).toContain(made.pump);
    expect(await textOf('tree')).toContain('1 lot');
    expect(await textOf('repairs')).toContain('low-pressure, impeller, replaced');
    expect(await textOf('release')).toContain('by quality key');
    const lines = await region('timeline').locator('tbody tr').allTextContents();
    expect(lines.some((line) => line.includes('Set together') && line.includes('SET-1'))).toBe(
      true,
    );
    expect(lines.at(-1)).toContain('Released to shipping');
    expect(visitor.complaints).toEqual([]);
  });

  it('takes a scanned label and finds a component by what it is in', async () => {
    await page.keyboard.type('[)>');
    await page.keyboard.press('Control+^');
    await page.keyboard.type('06');
    await page.keyboard.press('Control+]');
    await page.keyboard.type(`S${made.pump}`);
    await page.keyboard.press('Control+^');
    await page.keyboard.press('Control+d');
    await page.keyboard.press('Enter');
    await page.getByRole('heading', { level: 1, name: `Fuel pump ${made.pump}` }).waitFor();
    expect(await textOf('identity')).toContain(made.motor);
    expect(await region('tree').locator('[aria-current]').textContent()).toContain(made.pump);
    await region('tree').getByRole('link', { name: made.motor }).click();
    await page.getByRole('heading', { level: 1, name: `Motor ${made.motor}` }).waitFor();
  });

  it('asks which of several units bears a serial, and says when none does', async () => {
    await plant.make('set', '/v1/units', {
      class: 'fuel-pump',
      serial: made.lowerUnit,
      part: { number: 'FP-1', revision: 'A' },
      inspection: { result: 'accepted' },
    });
    await scan(made.lowerUnit);
    await region('choice')
      .getByRole('link', { name: `Lower unit ${made.lowerUnit}` })
      .click();
    await page.getByRole('heading', { level: 1, name: `Lower unit ${made.lowerUnit}` }).waitFor();
    await scan('NOBODY-1');
    await page.getByText('No unit has the serial NOBODY-1.').waitFor();
    expect(await page.getByLabel('Serial or scan').inputValue()).toBe('NOBODY-1');
    // The next scan takes the place of what was not found.
    await scan(made.motor);
    await page.getByRole('heading', { level: 1, name: `Motor ${made.motor}` }).waitFor();
    expect(visitor.complaints).toEqual([]);
  });

  it('goes back in time by keyboard, and its address says when', async () => {
    await scan(made.motor);
    const slider = page.getByRole('slider');
    await slider.focus();
    await page.keyboard.press('End');
    expect(await slider.getAttribute('aria-valuetext')).toBe('As it is now');
    await page.keyboard.press('ArrowLeft');
    expect(await slider.getAttribute('aria-valuetext')).toContain('Released to shipping');
    await page.keyboard.press('Home');
    await page.locator('#record .then').getByText('As it was known on').waitFor();
    await page.waitForURL(/asOf=/);
    expect(await textOf('runs')).toContain('No test run is recorded.');
    // The failed run had ended, and its repair was opened in the same moment.
    await page.goto(`/history?serial=${made.motor}&asOf=${failedAt}`);
    expect(await textOf('repairs')).toContain('still open');
    expect(await textOf('release')).toContain('It was not released.');
    expect(await region('runs').locator('details.run').count()).toBe(1);
    expect(await region('report').getAttribute('href')).toContain(
      `asOf=${encodeURIComponent(failedAt)}`,
    );
    await page.getByRole('link', { name: 'Back to now' }).click();
    await region('release').getByText('by quality key').waitFor();
    expect(visitor.complaints).toEqual([]);
  });

  it('shows each reading among its like, with the limits that judged it', async () => {
    await scan(made.motor);
    const speed = region(`like-${made.secondRun}-idle-speed`);
    await speed.scrollIntoViewIfNeeded();
    await speed.locator('svg').first().waitFor();
    // 30 motors beside this one, of which the first completed run counts.
    await speed.getByText('This run: 650.').waitFor();
    expect(await speed.textContent()).toContain('31 runs');
    // Speeds 620 to 650 in steps of 1, and this motor's 650: the last class holds the limit too.
    const [, lower, same, higher] =
      /(\d+) in lower classes, (\d+) in its own, (\d+) in higher/.exec(
        (await speed.textContent()) ?? '',
      ) ?? [];
    expect(Number(lower) + Number(same)).toBe(31);
    expect(Number(same)).toBeGreaterThan(0);
    expect(higher).toBe('0');
    expect(await speed.locator('a').count()).toBeGreaterThan(0);
    // Limits 600 and 700, no guard band: two solid strokes, none dashed.
    expect(
      await speed.locator('svg line[stroke-dasharray], svg g[stroke-dasharray] line').count(),
    ).toBe(0);
    const pressure = region(`like-${made.secondRun}-water-pressure`);
    await pressure.scrollIntoViewIfNeeded();
    await pressure.locator('svg').first().waitFor();
    // Limits 50 and 150 less a guard band of 5 on each side.
    expect(await pressure.locator('g[stroke-dasharray] line').count()).toBe(2);
    await pressure.getByText('The same as a table').click();
    const rows = pressure.locator('tbody tr');
    const counts = await rows.locator('td:nth-child(3)').allTextContents();
    expect(counts.reduce((sum, text) => sum + Number(text), 0)).toBe(31);
    await rows.getByRole('link').first().click();
    await page.getByRole('heading', { level: 1, name: 'Water pressure at idle' }).waitFor();
    expect(await page.locator('tbody tr').count()).toBeGreaterThan(0);
    expect(visitor.complaints).toEqual([]);
  });

  it('compares with the same cell only, and remembers that', async () => {
    await scan(made.motor);
    await page.getByLabel('Cells').selectOption('same');
    const speed = region(`like-${made.firstRun}-idle-speed`);
    await region(`run-${made.firstRun}`).locator('summary').first().click();
    await speed.scrollIntoViewIfNeeded();
    await speed.getByText('1 run, mean 650.').waitFor();
    await page.reload();
    expect(await page.getByLabel('Cells').inputValue()).toBe('same');
  });

  it('opens a containment from here, counted first, by quality alone', async () => {
    await scan(made.motor);
    await region('contain').locator('summary').click();
    await page.getByLabel('Everything with a lot that is in it').check();
    await page.getByRole('button', { name: 'Count first' }).click();
    await page.getByText('It would pick 1 unit').waitFor();
    await page.getByLabel('Motors run in its test cell around its run').check();
    await page.getByLabel('Title').fill('Primer that flakes');
    await page.getByLabel('Everything with a lot that is in it').check();
    await page.getByRole('button', { name: 'Open containment' }).click();
    await page
      .locator('.answer.accepted')
      .getByText(/Containment \d+ is open/)
      .waitFor();
    expect(await page.locator('.answers').textContent()).toContain(
      '1 unit was picked; of these, 0 inside and now held.',
    );
    const [containment] = (await plant.get('read', '/v1/containments')).body.items;
    expect(containment).toMatchObject({
      title: 'Primer that flakes',
      where: { lot: { part: 'PRIMER', revision: '1', lot: 'LOT-7' } },
      openedBy: 'quality key',
    });
    await region('timeline').getByText('Primer that flakes').first().waitFor();
    const reader = await openAs(browser, plant, 'read', `/history?serial=${made.motor}`);
    expect(await reader.page.locator('#contain').count()).toBe(0);
    expect([...visitor.complaints, ...reader.complaints]).toEqual([]);
    await reader.context.close();
  });

  it('leads to the report for printing, and prints well itself', async () => {
    await scan(made.motor);
    const address = await region('report').getAttribute('href');
    const report = await page.request.get(String(address), { headers: { Accept: 'text/html' } });
    expect(report.status()).toBe(200);
    expect(await report.text()).toContain(made.motor);
    await page.emulateMedia({ media: 'print' });
    expect(await region('search-form').isVisible()).toBe(false);
    expect(await region('timeline').isVisible()).toBe(true);
    await page.setViewportSize({ width: 794, height: 1123 });
    const folded = page.locator('#record details:not([open]):not(.chart details, #contain)');
    const before = await folded.count();
    expect(before).toBeGreaterThan(1);
    await page.evaluate("dispatchEvent(new Event('beforeprint'))");
    expect(await folded.count()).toBe(0);
    await page.screenshot({ path: 'test-results/screens/history-print.png', fullPage: true });
    await page.evaluate("dispatchEvent(new Event('afterprint'))");
    expect(await folded.count()).toBe(before);
    await page.emulateMedia({ media: null });
  });

  it('is open to people of every kind in every look', async () => {
    await holdBecause(plant, 'lower-unit', made.lowerUnit, {
      cause: 'quality',
      reason: 'To be looked at',
    });
    await page.goto(`/history?serial=${made.motor}`);
    for (const place of await page.locator('.population').all()) {
      await place.scrollIntoViewIfNeeded();
    }
    await region(`like-${made.secondRun}-water-pressure`).locator('svg').first().waitFor();
    await region('contain').locator('summary').click();
    await page.getByLabel('Motors run in its test cell around its run').check();
    expect(await faultsInAllLooks(page, 'history')).toEqual([]);
    await page.goto(`/history?serial=${made.motor}&asOf=${failedAt}`);
    expect(await faultsInAllLooks(page, 'history-then')).toEqual([]);
    await page.goto('/history?serial=NOBODY-1');
    expect(await faultsInAllLooks(page, 'history-none')).toEqual([]);
    expect(visitor.complaints).toEqual([]);
  });
});
