import { mkdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { type Browser, type BrowserContext, chromium, type Page } from 'playwright-core';
import { packageFile } from '../../src/package-root.js';
import { findBrowser } from '../../src/report/printer.js';
import type { TestPlant } from '../support/plant.js';

/**
 * The browser that these tests drive: the program SKEG_CHROMIUM names, else Chromium on PATH.
 * Undefined where there is none.
 */
export const chromiumPath = process.env.SKEG_CHROMIUM ?? (await findBrowser(process.env));
if (chromiumPath === undefined) {
  console.info('No browser was found here, so the pages were not tried.');
}

/**
 * What one test of a screen may take on a busy machine with two cores: give it to `describe`.
 * What passes at its second try alone is reported, and is to be looked into.
 */
export const PATIENCE = { timeout: 180_000, retry: 1 };

/** Starts the browser. Its sandbox needs rights that a container's root has not. */
export function openBrowser(): Promise<Browser> {
  return chromium.launch({
    ...(chromiumPath === undefined ? {} : { executablePath: chromiumPath }),
    args: ['--no-sandbox', '--disable-dev-shm-usage', '--autoplay-policy=no-user-gesture-required'],
  });
}

export interface Visit {
  page: Page;
  context: BrowserContext;
  /** Everything that the browser complained about: policy, scripts, missing files. */
  complaints: string[];
}

/** A fresh visitor of a plant's pages: no cookies, nothing remembered. */
export async function visit(browser: Browser, plant: TestPlant): Promise<Visit> {
  const context = await browser.newContext({
    baseURL: plant.service.address,
    viewport: { width: 1280, height: 900 },
  });
  // What a busy machine takes; a fault is told later, never taken for slowness.
  context.setDefaultTimeout(60_000);
  const page = await context.newPage();
  const complaints: string[] = [];
  page.on('pageerror', (error) => void complaints.push(String(error)));
  page.on('console', (message) => {
    if (message.type() === 'error') complaints.push(message.text());
  });
  return { page, context, complaints };
}

/** Signs in by the form with the plant's key of a role, and comes out where that leads. */
export async function signIn(page: Page, plant: TestPlant, role: string, to = '/'): Promise<void> {
  await page.goto(to);
  await page.getByLabel('Key', { exact: true }).fill(plant.tokens.get(role) ?? '');
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.waitForURL((address) => address.pathname !== '/sign-in');
}

/** Opens a page of a plant as the key of a role. */
export async function openAs(
  browser: Browser,
  plant: TestPlant,
  role: string,
  address: string,
): Promise<Visit> {
  const visitor = await visit(browser, plant);
  await signIn(visitor.page, plant, role, address);
  return visitor;
}

/**
 * Scans as a scanner does: types wherever the focus is, fast, and ends with Enter. Waits until
 * the page is loaded, as a person with a scanner does.
 */
export async function scan(page: Page, text: string): Promise<void> {
  await page.waitForLoadState();
  await page.keyboard.type(text);
  await page.keyboard.press('Enter');
}

const axeFile = createRequire(import.meta.url).resolve('axe-core');
const axeSource = readFileSync(axeFile, 'utf8');
/** WCAG 2.2 levels A and AA, as axe-core tags its rules. */
const LEVELS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];

interface Violation {
  id: string;
  help: string;
  nodes: { html: string; failureSummary?: string }[];
}

/** What axe-core finds against WCAG 2.2 AA, as text; empty where it finds nothing. */
export async function accessFaults(page: Page): Promise<string[]> {
  // Evaluated by the browser's tooling, so that the page's own policy need not allow it.
  await page.evaluate(axeSource);
  const run = `axe.run(document, { runOnly: ${JSON.stringify(LEVELS)} })`;
  const { violations } = (await page.evaluate(run)) as { violations: Violation[] };
  return violations.flatMap(({ id, help, nodes }) =>
    nodes.map((node) => `${id}: ${help}\n  ${node.html}\n  ${node.failureSummary ?? ''}`),
  );
}

const SHOTS = packageFile('test-results', 'screens');
const looks = [
  { look: 'light', scheme: 'light', width: 1280, height: 900, text: '100%' },
  { look: 'dark', scheme: 'dark', width: 1280, height: 900, text: '100%' },
  { look: 'narrow', scheme: 'light', width: 320, height: 720, text: '100%' },
  { look: 'wide', scheme: 'light', width: 3840, height: 2160, text: '100%' },
  { look: 'large', scheme: 'light', width: 1280, height: 900, text: '200%' },
] as const;
/** Looks in which other colours or another layout could bring faults of access of their own. */
const CHECKED: readonly string[] = ['light', 'dark', 'narrow'];

/**
 * Keeps pictures of a page in light, dark, 320 px, wide and with text of 200 %, and returns what
 * is wrong with any of them: faults of access, or a page wider than its window.
 */
export function faultsInAllLooks(page: Page, name: string): Promise<string[]> {
  return faultsIn(looks, page, name);
}

/** The same for a page that is built as others are: light, and 320 px. */
export function faultsInTwoLooks(page: Page, name: string): Promise<string[]> {
  return faultsIn(
    looks.filter(({ look }) => look === 'light' || look === 'narrow'),
    page,
    name,
  );
}

async function faultsIn(
  wanted: readonly (typeof looks)[number][],
  page: Page,
  name: string,
): Promise<string[]> {
  mkdirSync(SHOTS, { recursive: true });
  const faults: string[] = [];
  for (const { look, scheme, width, height, text } of wanted) {
    await page.emulateMedia({ colorScheme: scheme });
    await page.setViewportSize({ width, height });
    await page.evaluate(`document.documentElement.style.fontSize = '${text}'`);
    await page.screenshot({ path: join(SHOTS, `${name}-${look}.png`), fullPage: true });
    const overflow = await page.evaluate('document.documentElement.scrollWidth - innerWidth');
    if (Number(overflow) > 0) faults.push(`${look}: ${overflow} px wider than its window`);
    if (!CHECKED.includes(look)) continue;
    faults.push(...(await accessFaults(page)).map((fault) => `${look}: ${fault}`));
  }
  await page.evaluate(`document.documentElement.style.fontSize = ''`);
  await page.emulateMedia({ colorScheme: 'light' });
  await page.setViewportSize({ width: 1280, height: 900 });
  return faults;
}
