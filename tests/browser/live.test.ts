import { get, type IncomingMessage } from 'node:http';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { LISTENERS_AT_MOST } from '../../src/pages/live/stream.js';
import { TestPlant } from '../support/plant.js';
import {
  failedMotor,
  failing,
  furnish,
  holdBecause,
  runMotor,
  setMotor,
} from '../support/scenario.js';
import {
  chromiumPath,
  faultsInAllLooks,
  openAs,
  openBrowser,
  PATIENCE,
  signIn,
} from './support.js';

const SOON = { timeout: 60_000 };

/** Signs in as the form does and returns the session's cookie. */
async function cookieOf(plant: TestPlant, role: string): Promise<string> {
  const { address } = plant.service;
  const answer = await fetch(`${address}/sign-in`, {
    method: 'POST',
    redirect: 'manual',
    headers: { 'Content-Type': 'application/x-www-form-urlencoded', Origin: address },
    body: new URLSearchParams({ token: plant.tokens.get(role) ?? '', to: '/live' }),
  });
  return answer.headers.get('set-cookie')?.split(';')[0] ?? '';
}

/** Asks for the stream on a connection of its own, as a browser does. */
function listenTo(plant: TestPlant, cookie: string): Promise<IncomingMessage> {
  return new Promise((resolve, reject) => {
    const options = { headers: { Cookie: cookie }, agent: false } as const;
    get(`${plant.service.address}/live/stream`, options, resolve).on('error', reject);
  });
}

describe('the live stream', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });

  it('is for those who are signed in', async () => {
    expect((await listenTo(plant, '')).statusCode).toBe(401);
    expect((await listenTo(plant, 'skeg-session=nobody')).statusCode).toBe(401);
  });

  it('sends the board at once, then what has changed of it and nothing else', async () => {
    const stream = await listenTo(plant, await cookieOf(plant, 'read'));
    expect(stream.headers['content-type']).toContain('text/event-stream');
    const events = eventsOf(stream);
    const first = (await events.next()).value as Sent;
    expect(Object.keys(first.regions)).toContain('live-today');
    expect(first.announcement).toBe('Today 0 sets and 0 tests; 0 open signals.');
    const { motor } = await setMotor(plant);
    await runMotor(plant, motor, failing);
    const seen: string[] = [];
    let last = first;
    while (last.announcement !== 'Today 1 sets and 1 tests; 0 open signals.') {
      last = (await events.next()).value as Sent;
      seen.push(...Object.keys(last.regions));
    }
    expect(new Set(seen)).toEqual(new Set(['live-today', 'live-waiting', 'live-places']));
    await events.return(undefined);
  });

  it('takes so many listeners and no more', async () => {
    const cookie = await cookieOf(plant, 'read');
    const all = await Promise.all(
      Array.from({ length: LISTENERS_AT_MOST }, () => listenTo(plant, cookie)),
    );
    expect(all.every((one) => one.statusCode === 200)).toBe(true);
    const tooMany = await listenTo(plant, cookie);
    expect(tooMany.statusCode).toBe(503);
    expect(tooMany.headers['retry-after']).toBe('60');
    tooMany.resume();
    for (const one of all) one.destroy();
    const statusNow = async () => {
      const answer = await listenTo(plant, cookie);
      answer.destroy();
      return answer.statusCode;
    };
    await expect.poll(statusNow, SOON).toBe(200);
  });

  it('ends when the service does, which does not wait for listeners', async () => {
    const stream = await listenTo(plant, await cookieOf(plant, 'read'));
    const events = eventsOf(stream);
    await events.next();
    const startedAt = Date.now();
    await plant.stop();
    // The drain gives open requests ten seconds: see src/service.ts.
    expect(Date.now() - startedAt).toBeLessThan(5_000);
    expect((await events.next()).done).toBe(true);
  });
});

interface Sent {
  regions: Record<string, string>;
  announcement: string;
}

/** The events of a stream, as the standard for server-sent events writes them. */
async function* eventsOf(stream: IncomingMessage): AsyncGenerator<Sent> {
  const decoder = new TextDecoder();
  let text = '';
  for await (const part of stream as AsyncIterable<Uint8Array>) {
    text += decoder.decode(part, { stream: true });
    const events = text.split('\n\n');
    text = events.pop() ?? '';
    for (const event of events) {
      const data = /^event: board\ndata: (.+)$/s.exec(event)?.[1];
      if (data !== undefined) yield JSON.parse(data) as Sent;
    }
  }
}

describe.skipIf(chromiumPath === undefined)('the live screen (a browser)', PATIENCE, () => {
  let plant: TestPlant;
  let browser: Browser;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([TestPlant.start(), openBrowser()]);
    await furnish(plant);
    await failedMotor(plant);
  });
  afterAll(async () => {
    await browser.close();
    await plant.stop();
  });

  it('shows what happens without being reloaded, and keeps the focus', async () => {
    const { page, context, complaints } = await openAs(browser, plant, 'read', '/live');
    const sets = page.locator('#live-today .tile').filter({ hasText: /^Sets/ });
    expect(await sets.textContent()).toContain('1');
    await page.getByText('Kept up to date').waitFor();
    await sets.getByRole('link').focus();
    const { motor } = await setMotor(plant);
    await sets.getByText('2', { exact: true }).waitFor(SOON);
    expect(await page.evaluate('document.activeElement.textContent')).toBe('2');
    await holdBecause(plant, 'motor', motor, { cause: 'quality', reason: 'Label is askew' });
    await page.locator('#live-holds').getByText('Label is askew').waitFor(SOON);
    expect(await faultsInAllLooks(page, 'live')).toEqual([]);
    await page
      .locator('#live-waiting .tile')
      .filter({ hasText: 'in repair' })
      .getByRole('link')
      .click();
    await page.waitForURL(/\/live\/in-repair$/);
    expect(await page.locator('a.serial').count()).toBe(1);
    expect(complaints).toEqual([]);
    await context.close();
  });

  it('tells readers by ear no more often than every half minute', async () => {
    const { page, context } = await openAs(browser, plant, 'read', '/quality');
    await page.clock.install();
    await page.goto('/live');
    const announced = () => page.locator('#live-announcement').textContent();
    await page.clock.runFor(1000);
    await expect.poll(announced, SOON).toMatch(/^Today 2 sets/);
    await setMotor(plant);
    const sets = page.locator('#live-today .tile').filter({ hasText: /^Sets/ });
    await sets.getByText('3', { exact: true }).waitFor(SOON);
    await page.clock.runFor(20_000);
    expect(await announced()).toMatch(/^Today 2 sets/);
    await page.clock.runFor(10_000);
    expect(await announced()).toMatch(/^Today 3 sets/);
    await context.close();
  });

  it('is a page to reload where there are no scripts', async () => {
    const context = await browser.newContext({
      baseURL: plant.service.address,
      javaScriptEnabled: false,
    });
    const page = await context.newPage();
    await signIn(page, plant, 'read', '/live');
    const sets = page.locator('#live-today .tile').filter({ hasText: /^Sets/ });
    expect(await sets.textContent()).toContain('3');
    expect(await page.locator('main').textContent()).toContain('reload it to see more');
    await setMotor(plant);
    await page.reload();
    expect(await sets.textContent()).toContain('4');
    await context.close();
  });
});
