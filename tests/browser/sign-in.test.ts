import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { chromiumPath, faultsInAllLooks, openBrowser, PATIENCE, signIn, visit } from './support.js';

describe.skipIf(chromiumPath === undefined)('signing in (needs a browser)', PATIENCE, () => {
  let plant: TestPlant;
  let browser: Browser;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([TestPlant.start(), openBrowser()]);
  });
  afterAll(async () => {
    await browser.close();
    await plant.stop();
  });

  it('leads from any page to the key and back to where one wanted to go', async () => {
    const { page, complaints } = await visit(browser, plant);
    await signIn(page, plant, 'set', '/set-station');
    expect(new URL(page.url()).pathname).toBe('/set-station');
    await page.getByRole('button', { name: 'Sign out' }).click();
    await page.waitForURL('**/sign-in');
    await page.goto('/set-station');
    expect(new URL(page.url()).pathname).toBe('/sign-in');
    expect(complaints).toEqual([]);
  });

  it('tells a key that is not known, and shows well', async () => {
    const { page } = await visit(browser, plant);
    await page.goto('/sign-in');
    expect(await faultsInAllLooks(page, 'sign-in')).toEqual([]);
    await page.getByLabel('Key', { exact: true }).fill('skeg_1_nonsense');
    await page.keyboard.press('Enter');
    await page.getByRole('alert').waitFor();
    expect(await page.getByRole('alert').textContent()).toContain('is not known');
    expect(await faultsInAllLooks(page, 'sign-in-refused')).toEqual([]);
  });

  it('shows errors as pages', async () => {
    const { page } = await visit(browser, plant);
    const answer = await page.goto('/nothing-here');
    expect(answer?.status()).toBe(404);
    expect(await page.getByRole('heading', { level: 1 }).textContent()).toBe(
      'There is nothing at this address',
    );
    expect(await faultsInAllLooks(page, 'error-404')).toEqual([]);
    await signIn(page, plant, 'cell', '/sign-in?to=/set-station');
    expect(await page.getByRole('main').textContent()).toContain('keys with the role set');
    expect(await faultsInAllLooks(page, 'error-403')).toEqual([]);
  });
});
