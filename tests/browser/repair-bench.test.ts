import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  failing,
  furnish,
  holdBecause,
  runMotor,
  setMotor,
  stateOf,
} from '../support/scenario.js';
import {
  chromiumPath,
  faultsInAllLooks,
  openAs,
  openBrowser,
  PATIENCE,
  scan as scanOn,
} from './support.js';

describe.skipIf(chromiumPath === undefined)('the repair bench (needs a browser)', PATIENCE, () => {
  let plant: TestPlant;
  let browser: Browser;
  let page: Page;
  let complaints: string[];
  let close: (() => Promise<void>) | undefined;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([TestPlant.start(), openBrowser()]);
    await furnish(plant);
  });
  afterAll(async () => {
    await browser.close();
    await plant.stop();
  });

  async function open(role: string, address: string): Promise<void> {
    await close?.();
    const visitor = await openAs(browser, plant, role, address);
    ({ page, complaints } = visitor);
    close = () => visitor.context.close();
  }
  const answers = () => page.locator('.answers .answer');
  const says = (text: string | RegExp) =>
    answers().filter({ hasText: text }).waitFor({ timeout: 60_000 });

  const scan = (text: string) => scanOn(page, text);

  /** A motor in repair with a fuel pump in its powerhead. */
  async function withPump() {
    const made = await setMotor(plant);
    const pump = await enter(plant, 'fuel-pump');
    await plant.make('repair', '/v1/installations', {
      parentClass: 'powerhead',
      parent: made.powerhead,
      position: 'fuel-pump',
      childClass: 'fuel-pump',
      child: pump,
    });
    const { repair } = await runMotor(plant, made.motor, failing);
    return { ...made, pump, repair: repair ?? 0 };
  }

  it('lists the motors that wait, the longest first, and opens one by its scan', async () => {
    const first = await failedMotor(plant);
    plant.wait(3 * 60 * 60 * 1000);
    const second = await failedMotor(plant);
    await holdBecause(plant, 'motor', second.motor, { cause: 'quality', reason: 'Look at it' });
    plant.wait(5 * 60 * 1000);
    await open('repair', '/repair-bench');
    const rows = page.locator('#waiting tbody tr');
    const lines = await rows.allTextContents();
    expect(lines[0]).toContain(first.motor);
    expect(lines[0]).toContain('3 h 06 min');
    expect(lines[0]).toContain('Water pressure at idle');
    expect(lines[0]).toMatch(/CELL-\d+/);
    expect(lines[1]).toContain(`${second.motor} on hold`);
    expect(complaints).toEqual([]);
    expect(await faultsInAllLooks(page, 'repair-bench-list')).toEqual([]);
    await scan(second.motor);
    await page.waitForURL(`**/repair-bench/${second.repair}`);
    await page.getByText('quality: Look at it').waitFor();
  });

  it('says of a motor that no repair of it is open, and opens one for what was found', async () => {
    const { motor } = await setMotor(plant);
    await open('repair', '/repair-bench');
    await scan(motor);
    await says('No repair of it is open');
    await page.getByText('Open a repair that no test asked for').click();
    expect(await page.getByLabel('Motor', { exact: true }).inputValue()).toBe(motor);
    await page.getByLabel('What is wrong').fill('Paint scratched at the cowl');
    await page.keyboard.press('Enter');
    await page.waitForURL('**/repair-bench/*');
    await page.getByRole('heading', { name: `motor ${motor}` }).waitFor();
    await page.getByText('Paint scratched at the cowl').waitFor();
    expect(complaints).toEqual([]);
  });

  it('takes a motor from its scan to a closed repair, with a part exchanged by two scans', async () => {
    const { motor, powerhead, pump, repair } = await withPump();
    const spare = await enter(plant, 'fuel-pump');
    await open('repair', '/repair-bench');
    await scan(motor);
    await page.waitForURL(`**/repair-bench/${repair}`);
    // 20 kPa was read; the limits are 50 to 150 with a guard band of 5 (scenario.ts).
    const failed = await page.locator('.reading').textContent();
    expect(failed).toContain('20.0\u00a0kPa');
    expect(failed).toContain('Below the specification limit');
    await scan(spare);
    await says(`Fuel pump ${spare} goes in`);
    await scan(pump);
    await says(`Fuel pump ${pump} comes out`);
    expect(await page.locator('#out-card').textContent()).toContain(`fuel-pump of ${powerhead}`);
    expect(await page.locator('#place option:checked').textContent()).toContain(pump);
    expect(complaints).toEqual([]);
    expect(await faultsInAllLooks(page, 'repair-bench-exchange')).toEqual([]);
    await page.getByRole('button', { name: 'Record the exchange' }).press('Enter');
    await says('The exchange is recorded');
    expect(await page.locator('#exchanges tbody').textContent()).toContain(spare);
    expect(await page.locator('#place').textContent()).toContain(spare);
    expect(await stateOf(plant, 'fuel-pump', pump)).toBe('rejected');
    expect(await page.evaluate('document.activeElement.id')).toBe('part');

    await page.getByLabel('Symptom').selectOption('Low water pressure');
    await page.getByLabel('Cause').selectOption('Impeller damaged');
    await page.getByLabel('Action').selectOption('Part replaced');
    await page.getByLabel('Note').fill('Vane torn\nand the housing scored');
    await page.getByRole('button', { name: 'Close the repair' }).press('Enter');
    await says(`Repair ${repair} is closed`);
    await says('take it to a test cell');
    const work = await page.locator('#work').textContent();
    expect(work).toContain('How it ended: Repaired');
    expect(work).toContain('Impeller damaged');
    expect(await page.locator('#exchange-form').count()).toBe(0);
    expect(await page.locator('#bench-caution').textContent()).toBe('');
    expect((await plant.get('read', `/v1/repairs/${repair}`)).body).toMatchObject({
      outcome: 'repaired',
      symptom: 'low-pressure',
      note: 'Vane torn and the housing scored',
      exchanges: [{ position: 'fuel-pump', parent: powerhead, removed: pump, fitted: spare }],
    });
    expect(await faultsInAllLooks(page, 'repair-bench-closed')).toEqual([]);
  }, 60_000);

  it('takes a part out without another, whose label cannot be read, and fits one there later', async () => {
    const { powerhead, pump, repair } = await withPump();
    await open('repair', `/repair-bench/${repair}`);
    await page
      .getByLabel('Position', { exact: true })
      .selectOption(`powerhead ${powerhead} fuel-pump`);
    await page.getByLabel('good: may be used again').check();
    await page.getByRole('button', { name: 'Record the exchange' }).click();
    await says('The exchange is recorded');
    expect(await stateOf(plant, 'fuel-pump', pump)).toBe('accepted');
    const empty = `fuel-pump of powerhead ${powerhead}: empty`;
    expect(await page.locator('#place').textContent()).toContain(empty);
    await page.getByRole('button', { name: 'Record the exchange' }).click();
    await says('From which position?');
    await page.getByLabel('Position', { exact: true }).selectOption({ label: empty });
    await page.getByRole('button', { name: 'Record the exchange' }).click();
    await says('The position is empty: scan what goes in.');
    const spare = await enter(plant, 'fuel-pump');
    await page.getByLabel('Scan a part').focus();
    await scan(spare);
    await says(`Fuel pump ${spare} goes in`);
    await page.getByRole('button', { name: 'Record the exchange' }).click();
    await says('The exchange is recorded');
    expect(await stateOf(plant, 'fuel-pump', spare)).toBe('installed');
  });

  it('fits a part where nothing was', async () => {
    const { motor, powerhead, repair } = await failedMotor(plant);
    const pump = await enter(plant, 'fuel-pump');
    await open('repair', `/repair-bench/${repair}`);
    await scan(pump);
    await says(`Fuel pump ${pump} goes in`);
    await page.getByLabel('Position', { exact: true }).selectOption('Another position');
    await page.getByLabel('In which part').selectOption(`powerhead ${powerhead}`);
    await page.getByLabel('Its position').fill('priming-pump');
    await page.keyboard.press('Enter');
    await says('The exchange is recorded');
    const tree = (await plant.get('read', `/v1/tree?serial=${motor}`)).body.units;
    expect(tree).toContainEqual(
      expect.objectContaining({ serial: pump, position: 'priming-pump', parent: powerhead }),
    );
  });

  it('refuses a part in the service’s own words, and keeps what comes out to its position', async () => {
    const { powerhead, lowerUnit, pump, repair } = await withPump();
    const held = await enter(plant, 'fuel-pump');
    await holdBecause(plant, 'fuel-pump', held, { cause: 'quality', reason: 'Seal swollen' });
    await open('repair', `/repair-bench/${repair}`);
    await scan(held);
    await says('Seal swollen');
    expect(await page.locator('#in-card').textContent()).toContain('The unit is on hold');
    await scan(pump);
    await says('comes out');
    await page.getByRole('button', { name: 'Record the exchange' }).click();
    await says('Seal swollen');
    expect((await plant.get('read', `/v1/repairs/${repair}`)).body.exchanges).toEqual([]);
    await page.getByLabel('Position', { exact: true }).selectOption({
      label: `lower-unit of motor ${await motorOf(repair)}: lower unit ${lowerUnit}`,
    });
    expect(await page.locator('#out-card').textContent()).toContain('Nothing scanned yet');
    await page.getByLabel('Scan a part').focus();
    await scan(powerhead);
    await says(`Powerhead ${powerhead} comes out`);
    await scan('NOBODY-2');
    await says('No unit has the serial NOBODY-2.');
  });

  const motorOf = async (repair: number) =>
    (await plant.get('read', `/v1/repairs/${repair}`)).body.motor as string;

  it('asks which part is meant where two classes bear its serial', async () => {
    const { repair } = await failedMotor(plant);
    await enter(plant, 'powerhead', { serial: 'TWO-1' });
    await enter(plant, 'fuel-pump', { serial: 'TWO-1' });
    await open('repair', `/repair-bench/${repair}`);
    await scan('TWO-1');
    await says('Which of them is it?');
    await page.getByRole('button', { name: 'Fuel pump' }).click();
    await says('Fuel pump TWO-1 goes in');
  });

  it('draws what failed attempt by attempt against its limits, and says the same as a table', async () => {
    const { motor, repair } = await failedMotor(plant);
    await closeRepair(plant, repair);
    const again = failing.map((one) =>
      one.code === 'water-pressure' ? { ...one, value: 53 } : one,
    );
    const second = await runMotor(plant, motor, again);
    await open('repair', `/repair-bench/${second.repair}`);
    const chart = page.locator('#attempts-water-pressure');
    const marks = chart.locator('a[aria-label]');
    await marks.first().waitFor();
    const labels = (await marks.all()).map((one) => one.getAttribute('aria-label'));
    expect(await Promise.all(labels)).toEqual([
      'Attempt 1: 20.0\u00a0kPa, Below the specification limit',
      'Attempt 2: 53.0\u00a0kPa, In the guard band, not accepted',
    ]);
    const leads = "document.querySelector('#attempts-water-pressure a').href.baseVal";
    expect(await page.evaluate(leads)).toBe(`/history?serial=${motor}&class=motor`);
    await chart.getByText('The same as a table').click();
    const rows = await chart.locator('tbody tr').allTextContents();
    expect(rows).toHaveLength(2);
    expect(rows[1]).toContain('accepted 55 to 145, specification 50 to 150');
    expect(complaints).toEqual([]);
    expect(await faultsInAllLooks(page, 'repair-bench-attempts')).toEqual([]);
  });

  it('lets quality have a motor tested again as no fault found, and nobody else', async () => {
    const { motor, repair } = await failedMotor(plant);
    await open('repair', `/repair-bench/${repair}`);
    expect(await page.locator('#retest').textContent()).toContain('quality may let it be tested');
    expect(await page.locator('#retest form').count()).toBe(0);
    await open('quality', `/repair-bench/${repair}`);
    expect(await page.locator('#work').textContent()).toContain(
      'are for keys with the role repair',
    );
    expect(await page.locator('#close-form').count()).toBe(0);
    expect(await faultsInAllLooks(page, 'repair-bench-quality')).toEqual([]);
    await page.getByLabel('Why').fill('Gauge was unplugged');
    await page.keyboard.press('Enter');
    await says('It may be tested again');
    expect(await page.locator('#work').textContent()).toContain('How it ended: No fault found');
    expect(await stateOf(plant, 'motor', motor)).toBe('awaiting-test');
  });

  it('rules no fault found out once a part was exchanged', async () => {
    const { pump, repair } = await withPump();
    const spare = await enter(plant, 'fuel-pump');
    await open('repair', `/repair-bench/${repair}`);
    await scan(pump);
    await says('comes out');
    await scan(spare);
    await says('goes in');
    await page.getByRole('button', { name: 'Record the exchange' }).click();
    await says('The exchange is recorded');
    expect(await page.locator('#retest').textContent()).toContain('Not possible any more');
  });

  it('answers an unknown repair with a page that says so', async () => {
    await open('repair', '/repair-bench/999999');
    await page.getByText('There is no repair 999999.').waitFor();
  });
});
