import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { configure, furnish, specificationDraft, specify } from '../support/scenario.js';
import {
  chromiumPath,
  faultsInAllLooks,
  openAs,
  openBrowser,
  PATIENCE,
  type Visit,
} from './support.js';

const DAY_MS = 24 * 60 * 60 * 1000;

describe.skipIf(chromiumPath === undefined)('the catalogue (needs a browser)', PATIENCE, () => {
  let plant: TestPlant;
  let browser: Browser;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([TestPlant.start(), openBrowser()]);
    await furnish(plant);
    plant.wait(30 * DAY_MS);
  });
  afterAll(async () => {
    await browser.close();
    await plant.stop();
  });

  /** Opens a page as the key of a role, and closes it when the work is done. */
  async function as(
    role: string,
    address: string,
    work: (page: Page, visitor: Visit) => Promise<void>,
  ): Promise<void> {
    const visitor = await openAs(browser, plant, role, address);
    try {
      await work(visitor.page, visitor);
      // Chromium logs every refusal that a script is answered; nothing else may be logged.
      expect(visitor.complaints.filter((one) => !one.includes('status of 4'))).toEqual([]);
    } finally {
      await visitor.context.close();
    }
  }
  const done = (page: Page, text: string | RegExp) =>
    page.locator('.answers .answer.accepted').getByText(text).waitFor();
  const configurations = async (): Promise<Record<string, unknown>[]> =>
    (await plant.get('read', '/v1/configurations?limit=1000')).body.items;
  const specifications = async (): Promise<{ id: number; state: string; revision: number }[]> =>
    (await plant.get('read', '/v1/specifications?limit=1000')).body.items;

  it('begins here for the owner of configurations, who adds models and parts', async () => {
    await as('configuration', '/', async (page) => {
      expect(new URL(page.url()).pathname).toBe('/catalogue');
      await page.getByText('Add a model').click();
      const form = page.locator('#model-form');
      await form.getByLabel('Code').fill('F150L');
      await form.getByLabel('Name').fill('Hundred and fifty, long shaft');
      await form.getByLabel('Rated power in kW').fill('much');
      await form.getByLabel('Attributes').fill('shaftLength: 508 mm\nrotation: right');
      await page.keyboard.press('Tab');
      await page.keyboard.press('Enter');
      await form.locator('.fault').waitFor();
      const power = form.getByLabel('Rated power in kW');
      expect(await power.getAttribute('aria-invalid')).toBe('true');
      await power.fill('110');
      await page.keyboard.press('Enter');
      await done(page, 'Model F150L is in the catalogue');
      await page.locator('#models-table').getByText('rotation: right').waitFor();
      await page.getByText('Add a part revision').click();
      const part = page.locator('#part-form');
      await part.getByLabel('Number').fill('PH-150');
      await part.getByLabel('Revision').fill('A');
      await part.getByLabel('Name').fill('Powerhead 150');
      await part.getByLabel('Class').selectOption('powerhead');
      await part.getByRole('button', { name: 'Add' }).click();
      await done(page, 'Part PH-150 revision A is in the catalogue');
      await page.locator('#parts-table').getByText('PH-150').waitFor();
    });
    const { items } = (await plant.get('read', '/v1/models')).body;
    expect(items.at(-1)).toMatchObject({
      code: 'F150L',
      ratedPowerKw: 110,
      attributes: { shaftLength: '508 mm', rotation: 'right' },
    });
  });

  it('drafts a configuration by one key and approves it by another', async () => {
    let address = '';
    await as('configuration', '/catalogue/models/F100L', async (page) => {
      await page.getByRole('link', { name: 'Draft the next revision of F100L-A' }).click();
      await page.getByLabel('Powerhead revision').fill('C');
      await page.getByLabel('In force from').fill('2026-04-15T07:30');
      await page.getByRole('button', { name: 'Draft it' }).click();
      const fault = page.locator('.fault');
      await fault.getByText('there is no part PH-100 revision C').waitFor();
      expect(await page.evaluate('document.activeElement.id')).toBe('powerhead-revision');
      await page.keyboard.press('Control+a');
      await page.keyboard.type('B');
      await page.keyboard.press('Enter');
      await page.getByRole('heading', { level: 1, name: 'F100L-A revision 2' }).waitFor();
      address = new URL(page.url()).pathname;
      expect(await page.locator('#approval').textContent()).toContain(
        'Another key with the role configuration or quality must approve it.',
      );
      expect(await page.locator('#approval-form').count()).toBe(0);
      // The draft is edited where it stands.
      await page.getByLabel('Attributes').fill('shaftLength: 508 mm');
      await page.getByRole('button', { name: 'Save the draft' }).click();
      await done(page, 'Saved as version 2');
    });
    await as('quality', address, async (page) => {
      await page.getByRole('button', { name: 'Approve' }).click();
      await done(page, 'Approved');
      await page.locator('#of-configuration').getByText('approved, to come').waitFor();
      expect(await page.locator('#approval').count()).toBe(0);
    });
    expect((await configurations()).at(-1)).toMatchObject({
      code: 'F100L-A',
      revision: 2,
      powerheadRevision: 'B',
      attributes: { shaftLength: '508 mm' },
      effectiveFrom: '2026-04-15T07:30:00.000Z',
      draftedBy: 'configuration key',
      approvedBy: 'quality key',
    });
  });

  it('draws which revision was, is and will be in force, and says it in words', async () => {
    const base = plant.now;
    await configure(plant, { code: 'F100L-B', powerheadRevision: 'A' });
    plant.wait(5 * DAY_MS);
    await configure(plant, { code: 'F100L-B', powerheadRevision: 'B' });
    const end = new Date(base + 20 * DAY_MS).toISOString();
    await configure(plant, { code: 'F100L-B', discontinued: true }, { effectiveFrom: end });
    plant.wait(2 * DAY_MS);
    await as('read', '/catalogue/models/F100L', async (page) => {
      const own = page.locator('#configuration-F100L-B');
      const says = await own.locator('.says').textContent();
      expect(says).toContain('Revision 2 is in force since Apr 6, 2026');
      expect(says).toContain('Revision 3 ends it on Apr 21, 2026');
      expect(await own.locator('rect.past').count()).toBe(1);
      expect(await own.locator('rect.now').count()).toBe(1);
      expect(await own.locator('rect.future.ending').count()).toBe(1);
      expect(await page.getByRole('link', { name: /^Draft/ }).count()).toBe(0);
      expect(await faultsInAllLooks(page, 'catalogue-model')).toEqual([]);
    });
  });

  it('drafts a specification from the latest, with faults at their fields', async () => {
    let address = '';
    await as('quality', '/catalogue/models/F100L/specification', async (page) => {
      await page.getByLabel('What it is for').fill('Narrower idle, exhaust temperature added');
      await page.locator('.characteristic summary').filter({ hasText: 'idle-speed' }).click();
      const idle = page.locator('.characteristic').first();
      await idle.getByLabel('Lower limit').fill('625');
      await idle.getByLabel('Upper limit').fill('610');
      const [first] = await page.locator('.prompt').all();
      await first?.getByRole('button', { name: 'Add a characteristic' }).click();
      await page.keyboard.type('exhaust-temperature');
      const added = first?.locator('.characteristic').last();
      await added?.getByLabel('Name').fill('Exhaust temperature');
      await added?.getByLabel('Unit').fill('hot');
      await added?.getByLabel('Upper limit').fill('750');
      await added?.getByLabel('Nominal').fill('600');
      await page.locator('.characteristic').last().locator('summary').click();
      await page.locator('.characteristic').last().getByRole('button', { name: 'Remove' }).click();
      await done(page, 'telltale: Telltale runs was removed from the draft');
      await page
        .locator('.prompt')
        .last()
        .getByRole('button', { name: 'Remove the prompt' })
        .click();
      await page.getByRole('button', { name: 'Draft it' }).click();
      await page.locator('.answers').getByText('2 fields have to be put right').waitFor();
      const unit = added?.getByLabel('Unit');
      expect(await unit?.getAttribute('aria-invalid')).toBe('true');
      expect(await added?.locator('.fault').textContent()).toContain('is not a UCUM code');
      expect(await idle.locator('.fault').count()).toBe(1);
      expect(await faultsInAllLooks(page, 'catalogue-draft')).toEqual([]);
      await idle.getByLabel('Upper limit').fill('690');
      await unit?.fill('Cel');
      await page.getByRole('button', { name: 'Draft it' }).click();
      await page
        .getByRole('heading', { level: 1, name: 'Specification of F100L, revision 2' })
        .waitFor();
      address = new URL(page.url()).pathname;
      const rows = await page.locator('#compare tbody tr').allTextContents();
      expect(rows).toEqual(
        expect.arrayContaining([
          expect.stringMatching(/idle-speed.*changed.*lower limit.*600.*625/s),
          expect.stringMatching(/telltale.*removed.*expected: yes/s),
          expect.stringMatching(/exhaust-temperature.*added.*at most 750 °C/s),
        ]),
      );
      const id = address.split('/').at(-1);
      expect(await page.locator('#trial').getAttribute('href')).toBe(
        `/quality/trial?model=F100L&fromDay=&untilDay=&specification=${id}`,
      );
      expect(await faultsInAllLooks(page, 'catalogue-specification')).toEqual([]);
    });
    await as('quality', '/catalogue/models/F100L/specification', async (page) => {
      expect(await page.getByLabel('What it is for').inputValue()).toContain('Narrower idle');
      await page.getByLabel('What it is for').fill('Narrower idle');
      await page.getByRole('button', { name: 'Save the draft' }).click();
      await page.waitForURL((url) => url.pathname === address);
    });
    await as('quality 2', address, async (page) => {
      await page.getByRole('button', { name: 'Approve' }).click();
      await done(page, 'Approved');
    });
    const latest = (await specifications()).at(-1);
    expect(latest).toMatchObject({
      note: 'Narrower idle',
      revision: 2,
      state: 'approved',
      version: 3,
    });
    const { body } = await plant.get('read', `/v1/specifications/${latest?.id}`);
    expect(body.prompts).toHaveLength(1);
    expect(body.prompts[0].characteristics).toMatchObject([
      { code: 'idle-speed', lower: 625, upper: 690, decimals: 0 },
      { code: 'water-pressure', lower: 50, upper: 150, guardBand: 5 },
      { code: 'exhaust-temperature', unit: 'Cel', lower: null, upper: 750, nominal: 600 },
    ]);
  });

  it('says that a draft was edited since it was read, and changes nothing', async () => {
    await plant.make('quality', '/v1/specifications', { ...specificationDraft(), note: 'Third' });
    const draft = (await specifications()).find((one) => one.state === 'draft');
    await as('quality', '/catalogue/models/F100L/specification', async (page) => {
      const edited = await plant.put(
        'quality 2',
        `/v1/specifications/${draft?.id}`,
        { ...specificationDraft(), note: 'Edited by another' },
        { headers: { 'If-Match': '"v1"' } },
      );
      expect(edited.status).toBe(200);
      await page.getByLabel('What it is for').fill('Lost');
      await page.getByRole('button', { name: 'Save the draft' }).click();
      await page.locator('.answers').getByText('The draft is at version 2, not 1.').waitFor();
    });
    const { body } = await plant.get('read', `/v1/specifications/${draft?.id}`);
    expect(body.note).toBe('Edited by another');
    await plant.make('quality', `/v1/specifications/${draft?.id}/approval`, {});
  });

  it('shows a computed characteristic with what it is computed of', async () => {
    const speed = { kind: 'measured', unit: '/min', lower: 600, upper: 700, decimals: 0 };
    const ratio = {
      kind: 'derived',
      code: 'idle-ratio',
      name: 'Idle speed over the second one',
      unit: '1',
      lower: 0,
      upper: 2,
      decimals: 2,
      derivation: { function: 'ratio', inputs: ['idle-speed', 'idle-speed-2'] },
    };
    const draft = {
      model: 'F100L',
      note: 'Idle speed twice',
      prompts: [
        {
          text: 'Run at idle twice',
          characteristics: [
            { ...speed, code: 'idle-speed', name: 'Idle speed' },
            { ...speed, code: 'idle-speed-2', name: 'Idle speed again' },
            ratio,
          ],
        },
      ],
    };
    const id = await specify(plant, draft);
    await as('quality', '/catalogue/models/F100L/specification', async (page) => {
      // What the form begins with says the same as what it was made of.
      await page.getByLabel('What it is for').fill('Copied');
      await page.getByRole('button', { name: 'Draft it' }).click();
      await page.getByText('Prompts and characteristics are the same.').waitFor();
      await page.locator('#prompts').getByText('ratio of idle-speed, idle-speed-2').waitFor();
      await page.getByLabel('Compare with').selectOption({ label: 'Revision 2: Narrower idle' });
      await page.getByRole('button', { name: 'Compare' }).click();
      await page.locator('#compare').getByText('exhaust-temperature').waitFor();
      expect(await page.getByLabel('Compare with').inputValue()).not.toBe(String(id));
    });
  });

  it('keeps drafting to its roles, and shows everything to everyone in every look', async () => {
    await as('read', '/catalogue', async (page) => {
      expect(await page.locator('form#model-form').count()).toBe(0);
      expect(await faultsInAllLooks(page, 'catalogue')).toEqual([]);
      await page.goto('/catalogue/models/F100L/specification');
      await page.getByText(/This screen is for keys with the role quality/).waitFor();
      await page.goto('/catalogue/models/NONE');
      await page.getByText('There is no model NONE.').waitFor();
    });
    await as('configuration', '/catalogue/models/F100L/configuration', async (page) => {
      expect(await faultsInAllLooks(page, 'catalogue-configuration')).toEqual([]);
    });
  });
});
