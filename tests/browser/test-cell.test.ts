import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, openRun, passing, setMotor } from '../support/scenario.js';
import {
  chromiumPath,
  faultsInAllLooks,
  openAs,
  openBrowser,
  PATIENCE,
  scan as scanOn,
  type Visit,
} from './support.js';

describe.skipIf(chromiumPath === undefined)('the test cell (needs a browser)', PATIENCE, () => {
  let plant: TestPlant;
  let browser: Browser;
  let visitor: Visit;
  let page: Page;
  let cells = 0;
  let cell: string;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([TestPlant.start(), openBrowser()]);
    await furnish(plant);
  });
  afterAll(async () => {
    await browser.close();
    await plant.stop();
  });
  beforeEach(async () => {
    cells += 1;
    cell = `TC-${cells}`;
    visitor = await openAs(browser, plant, 'cell', '/test-cell');
    ({ page } = visitor);
    await page.getByLabel('This cell').fill(cell);
    await page.keyboard.press('Enter');
    await says(`Cell ${cell} is free`);
    return () => visitor.context.close();
  });

  const answers = () => page.locator('.answers .answer');
  const says = (text: string | RegExp) =>
    answers().filter({ hasText: text }).waitFor({ timeout: 60_000 });
  const readings = () => page.locator('#readings');
  const shows = (text: string | RegExp) =>
    readings().filter({ hasText: text }).waitFor({ timeout: 60_000 });
  const inCell = async () => (await plant.get('read', `/v1/test-cells/${cell}`)).body;
  const post = (run: number, sequence: number, sent: object[]) =>
    plant.make('cell', `/v1/runs/${run}/batches`, { sequence, readings: sent });

  const scan = (text: string) => scanOn(page, text);

  async function begin(): Promise<{ motor: string; run: number }> {
    const { motor } = await setMotor(plant);
    await scan(motor);
    await says(`of motor ${motor} has begun`);
    return { motor, run: (await inCell()).run.id };
  }

  it('takes a motor from its scan to a pass by keyboard alone, and says what comes next', async () => {
    const { motor } = await begin();
    expect(await page.locator('.prompt:visible h3').textContent()).toBe('Run at idle');
    const text = await page.locator('.prompt:visible').textContent();
    expect(text).toContain('Moving parts, hot surfaces, exhaust: stay outside the guard.');
    expect(await page.evaluate('document.activeElement.id')).toBe('value-idle-speed');
    await page.keyboard.type('650');
    await page.keyboard.press('Tab');
    await page.keyboard.type('100.5');
    await page.keyboard.press('Enter');
    await says('Idle speed, Water pressure at idle');
    expect(await answers().locator('.kind').textContent()).toBe('Recorded');
    expect(await page.locator('.prompt:visible h3').textContent()).toBe('Look at the telltale');
    expect(await page.evaluate('document.activeElement.textContent')).toBe('Yes');
    await page.keyboard.press('Enter');
    await says('Telltale runs');
    expect(await page.locator('#outstanding').textContent()).toContain('Nothing is outstanding');
    await page.locator('#complete').focus();
    await page.keyboard.press('Enter');
    await says(`motor ${motor}, attempt 1, first pass`);
    const answer = page.locator('#answer-calm .answer');
    expect(await answer.locator('.kind').textContent()).toBe('Passed');
    expect(await answer.locator('use').getAttribute('href')).toBe('#icon-accepted');
    expect(await answer.textContent()).toContain('Nothing stands in the way of its release');
    expect(await page.evaluate('document.activeElement.id')).toBe('scan');
    expect((await inCell()).lastRun).toMatchObject({ motor, verdict: 'pass' });
    expect(visitor.complaints).toEqual([]);
    expect(await faultsInAllLooks(page, 'test-cell-passed')).toEqual([]);
  });

  it('follows what the cell’s own software begins, reads and completes, and says so at once', async () => {
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor, cell);
    await says(`Run ${run} of motor ${motor} is open here`);
    await post(run, 1, [{ code: 'idle-speed', value: 640 }]);
    await shows('640 r/min');
    await shows('1 of 3 read; all accepted so far');
    // Limits 50 to 150 kPa with a guard band of 5 (scenario.ts): 148 lies in the upper one.
    await post(run, 2, [{ code: 'water-pressure', value: 148 }]);
    await says('Water pressure at idle');
    expect(await answers().locator('.kind').textContent()).toBe('Not accepted');
    const line = readings().locator('.reading').filter({ hasText: 'Water pressure' });
    const text = await line.textContent();
    expect(text).toContain('148.0\u00a0kPa');
    expect(text).toContain('In the guard band, not accepted');
    expect(text).toContain('accepted 55 to 145, specification 50 to 150\u00a0kPa');
    expect(await line.locator('.gauge-line .cross').count()).toBe(1);
    expect(await line.locator('.state use').getAttribute('href')).toBe('#icon-refused');
    expect(await page.locator('.prompt:visible h3').textContent()).toBe('Look at the telltale');
    await post(run, 3, [{ code: 'telltale', value: true }]);
    await shows('1 not accepted so far');
    await page.locator('#outstanding').getByText('Nothing is outstanding').waitFor();
    expect(visitor.complaints).toEqual([]);
    expect(await faultsInAllLooks(page, 'test-cell-run')).toEqual([]);
    const { repair } = await plant.make<{ repair: number }>('cell', `/v1/runs/${run}/completion`, {
      cellVerdict: 'pass',
    });
    await says(`Take it to the repair bench: repair ${repair}.`);
    expect(await page.locator('#answer-urgent .kind').textContent()).toBe('Failed');
    const told = await answers().textContent();
    expect(told).toContain(`motor ${motor}, attempt 1`);
    expect(told).toContain('Water pressure at idle');
    expect(told).toContain('The cell’s own verdict was pass. The two disagree: call quality.');
    expect(await faultsInAllLooks(page, 'test-cell-failed')).toEqual([]);
  }, 60_000);

  it('leaves what is being typed while readings come in', async () => {
    const { run } = await begin();
    await page.keyboard.type('65');
    await post(run, 1, [{ code: 'telltale', value: true }]);
    await shows('1 of 3 read');
    await page.keyboard.type('0');
    await page.keyboard.press('Enter');
    await says('Idle speed');
    await shows('650 r/min');
    expect(await page.getByLabel('Idle speed').inputValue()).toBe('');
  });

  it('counts what a person typed before what the software sends later, and keeps both', async () => {
    const { run } = await begin();
    await post(run, 1, [{ code: 'idle-speed', value: 900 }]);
    await says('Idle speed');
    await page.getByLabel('Idle speed').fill('655');
    await page.keyboard.press('Enter');
    await shows('655 r/min');
    await post(run, 2, [{ code: 'idle-speed', value: 910 }]);
    await expect
      .poll(async () => (await plant.get('read', `/v1/runs/${run}`)).body.readings.length)
      .toBe(3);
    await shows('655 r/min');
    const kept = (await plant.get('read', `/v1/runs/${run}`)).body.readings;
    expect(kept.map((one: { batch: number; value: number }) => [one.batch, one.value])).toEqual([
      [1, 900],
      [2, 910],
      [9001, 655],
    ]);
  });

  it('takes another number where the software was faster with its batch', async () => {
    const { run } = await begin();
    let isFirst = true;
    await page.route('**/batches', async (route) => {
      if (isFirst) {
        isFirst = false;
        await post(run, 9001, [{ code: 'idle-speed', value: 601 }]);
      }
      await route.continue();
    });
    await page.getByLabel('Idle speed').fill('660');
    await page.keyboard.press('Enter');
    await shows('660 r/min');
    expect((await inCell()).run.lastBatch).toBe(9002);
  });

  it('takes nothing for a number that is none: a scan that comes in the middle of a run', async () => {
    await begin();
    await scan('T26-00007');
    await says('T26-00007 is not a number');
    expect(await page.getByLabel('Idle speed').getAttribute('aria-invalid')).toBe('true');
    expect((await inCell()).run.readings).toBe(0);
    await page.getByLabel('Idle speed').fill('');
    await page.keyboard.press('Enter');
    await says('Type at least one reading first.');
    await page.getByLabel('Idle speed').fill('6,50');
    await page.keyboard.press('Enter');
    await says('Use digits, with a point before decimals.');
  });

  it('goes back and forth between prompts, and keeps its place when the page is loaded anew', async () => {
    const { motor, run } = await begin();
    await page.getByRole('button', { name: 'Next prompt' }).click();
    expect(await page.locator('.prompt:visible h3').textContent()).toBe('Look at the telltale');
    await page.reload();
    await says(`Run ${run} of motor ${motor} is open here`);
    expect(await page.locator('.prompt:visible h3').textContent()).toBe('Look at the telltale');
    await page.getByRole('button', { name: 'Back' }).click();
    expect(await page.locator('.prompt:visible h3').textContent()).toBe('Run at idle');
  });

  it('says what is missing when a run is completed too early', async () => {
    const { run } = await begin();
    await page.locator('#complete').click();
    await says('Still missing: idle-speed, water-pressure, telltale.');
    expect((await inCell()).run.id).toBe(run);
  });

  it('aborts a run with its reason, which counts as no attempt', async () => {
    const { motor } = await begin();
    await page.getByText('Abort the run').click();
    await page.getByLabel('Why').fill('Gas alarm');
    await page.keyboard.press('Enter');
    await says(`The run of motor ${motor} was aborted`);
    await says('It counts as no attempt.');
    expect((await inCell()).lastRun).toMatchObject({ state: 'aborted', abortReason: 'Gas alarm' });
    await scan(motor);
    await says(`of motor ${motor} has begun`);
  });

  it('takes a run over that is open in another cell', async () => {
    const { motor } = await setMotor(plant);
    const run = await openRun(plant, motor, `${cell}-OTHER`);
    await post(run, 1, [{ code: 'idle-speed', value: 645 }]);
    await scan(motor);
    await says(`Motor ${motor} is in-test in cell ${cell}-OTHER`);
    await page
      .getByRole('button', { name: `Take run ${run} over from cell ${cell}-OTHER` })
      .click();
    await says(`Run ${run} is taken over`);
    await shows('645 r/min');
    expect((await inCell()).run.id).toBe(run);
  });

  it('says that a run goes on elsewhere, and how one ended that gave way to the next at once', async () => {
    const { motor, run } = await begin();
    await plant.make('cell', `/v1/runs/${run}/resumption`, { cell: `${cell}-B` });
    await says(`Run ${run} goes on in another cell`);
    await plant.make('cell', `/v1/runs/${run}/resumption`, { cell });
    await says(`Run ${run} of motor ${motor} is open here`);
    const next = (await setMotor(plant)).motor;
    // While the page hears nothing, as in the second between two of its looks.
    await page.route('**/v1/test-cells/*', (route) => route.abort());
    await plant.make('cell', `/v1/runs/${run}/completion`, { readings: passing });
    await openRun(plant, next, cell);
    await page.unroute('**/v1/test-cells/*');
    await says(`motor ${motor}, attempt 1, first pass`);
    await page.locator('#run-title').getByText(next).waitFor();
  });

  it('leaves the focus where somebody types while the cell is free', async () => {
    await page.locator('#place summary').click();
    await page.getByLabel('This cell').fill('OTHER-9');
    const reference = await setMotor(plant);
    const designated = await plant.make<{ id: number }>('quality', '/v1/reference-motors', {
      motor: reference.motor,
      intervalHours: 1,
      cells: [cell],
      reason: 'Gauge study',
    });
    plant.wait(2 * 60 * 60 * 1000);
    await page.locator('#notices .answer').waitFor();
    expect(await page.evaluate('document.activeElement.id')).toBe('cell');
    expect(await page.getByLabel('This cell').inputValue()).toBe('OTHER-9');
    await plant.make('quality', `/v1/reference-motors/${designated.id}/retirement`, {
      reason: 'Test is over',
    });
  });

  it('refuses in the service’s own words, with what to do', async () => {
    await scan('NOBODY-1');
    await says('No motor has the serial NOBODY-1.');
    const { motor } = await setMotor(plant);
    await plant.make('quality', '/v1/holds', {
      class: 'motor',
      unit: motor,
      cause: 'quality',
      reason: 'Clamp to be looked at',
    });
    await scan(motor);
    await says('Clamp to be looked at');
    expect(await page.locator('#answer-urgent .kind').textContent()).toBe('Refused');
  });

  it('shows at the top that a reference motor is overdue in this cell', async () => {
    const { motor } = await setMotor(plant);
    const designated = await plant.make<{ id: number }>('quality', '/v1/reference-motors', {
      motor,
      intervalHours: 1,
      cells: [cell],
      reason: 'Gauge study',
    });
    plant.wait(2 * 60 * 60 * 1000);
    const notice = page.locator('#notices .answer');
    await notice.getByText('A reference motor is overdue here').waitFor();
    expect(await notice.textContent()).toContain(
      `Cell ${cell} has to run reference motor ${motor} every 1 hour`,
    );
    await plant.make('quality', `/v1/reference-motors/${designated.id}/retirement`, {
      reason: 'Test is over',
    });
    await notice.waitFor({ state: 'detached' });
  });

  it('says once when the network is gone, and goes on by itself when it is back', async () => {
    const { run } = await begin();
    await visitor.context.setOffline(true);
    await says('This screen keeps asking, and goes on by itself.');
    await post(run, 1, passing);
    await visitor.context.setOffline(false);
    await says('The service answers again');
    await shows('3 of 3 read; all accepted so far');
  });

  it('says that the session has ended', async () => {
    await plant.service.store.command((records) => records.sessions.expire(plant.now, 1000));
    await says('You are signed out');
    await page.getByRole('link', { name: 'Sign in again' }).waitFor();
  });
});
