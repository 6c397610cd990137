import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, holdBecause, order } from '../support/scenario.js';
import {
  chromiumPath,
  faultsInAllLooks,
  openAs,
  openBrowser,
  PATIENCE,
  scan as scanOn,
  type Visit,
} from './support.js';

/** Longer than a half waits for the other: see scripts/set-station/pair.ts. */
const SIX_MINUTES = 6 * 60 * 1000;

describe.skipIf(chromiumPath === undefined)('the set station (needs a browser)', PATIENCE, () => {
  let plant: TestPlant;
  let browser: Browser;
  let orderNumber: string;
  let station: Visit;
  let page: Page;
  beforeAll(async () => {
    [plant, browser] = await Promise.all([TestPlant.start(), openBrowser()]);
    await furnish(plant);
    orderNumber = await order(plant, 50);
  });
  afterAll(async () => {
    await browser.close();
    await plant.stop();
  });
  beforeEach(async () => {
    station = await openAs(browser, plant, 'set', '/set-station');
    ({ page } = station);
    await page.getByLabel('This station').fill('SET-1');
    await page.keyboard.press('Enter');
    await says('This is SET-1');
    return () => station.context.close();
  });

  const answers = () => page.locator('.answers .answer');
  const says = (text: string | RegExp) =>
    answers().filter({ hasText: text }).waitFor({ timeout: 60_000 });
  const card = (name: string) => page.locator(`#${name}-card`);
  const attempts = async (): Promise<Record<string, string>[]> =>
    (await plant.get('read', '/v1/set-attempts?limit=1000')).body.items;
  const setsOf = async (powerhead: string) =>
    (await attempts()).filter((one) => one.outcome === 'set' && one.powerhead === powerhead);

  const scan = (text: string) => scanOn(page, text);

  async function freshPair() {
    const powerhead = await enter(plant, 'powerhead');
    const lowerUnit = await enter(plant, 'lower-unit');
    return { powerhead, lowerUnit };
  }

  it('sets a pair by two scans in either order, and says so by word, shape and region', async () => {
    const first = await freshPair();
    await scan(first.powerhead);
    await says(`Powerhead ${first.powerhead}`);
    await scan(first.lowerUnit);
    await says('is set');
    // The tests' plant issues T, the year, six digits and a check character.
    const [shown] = (await answers().textContent())?.match(/T26\d{6}[0-9A-Z]/) ?? [];
    const second = await freshPair();
    await scan(second.lowerUnit);
    await says(`Lower unit ${second.lowerUnit}`);
    await scan(second.powerhead);
    await says('is set');
    const sets = (await attempts()).filter((one) => one.outcome === 'set');
    expect(sets.slice(-2)).toMatchObject([
      { ...first, station: 'SET-1', order: null, motor: shown, by: 'set key' },
      { ...second, station: 'SET-1', order: null },
    ]);
    const answer = page.locator('#answer-calm .answer');
    expect(await answer.locator('.kind').textContent()).toBe('Done');
    expect(await answer.locator('use').getAttribute('href')).toBe('#icon-accepted');
    await page.locator('#recent-panel').getByText(String(shown)).waitFor();
    expect(station.complaints).toEqual([]);
  });

  it('takes both scans of a pair that come faster than the answers', async () => {
    const { powerhead, lowerUnit } = await freshPair();
    await scan(powerhead);
    await scan(lowerUnit);
    await says('is set');
    expect(await setsOf(powerhead)).toHaveLength(1);
  });

  it('takes what a scanner sends of a label: ISO/IEC 15434, with its control characters', async () => {
    const { powerhead, lowerUnit } = await freshPair();
    // A scanner that poses as a keyboard types RS, GS and EOT as Ctrl+^, Ctrl+] and Ctrl+D.
    await page.keyboard.type('[)>');
    await page.keyboard.press('Control+^');
    await page.keyboard.type('06');
    await page.keyboard.press('Control+]');
    await page.keyboard.type(`S${powerhead}`);
    await page.keyboard.press('Control+^');
    await page.keyboard.press('Control+d');
    await page.keyboard.press('Enter');
    await says(`Powerhead ${powerhead}`);
    await scan(lowerUnit);
    await says('is set');
  });

  it('answers by sound too: told apart by pitch and wave, and silent where turned off', async () => {
    await page.addInitScript(`
      window.tones = [];
      const start = OscillatorNode.prototype.start;
      OscillatorNode.prototype.start = function (at) {
        window.tones.push(this.type + ' ' + this.frequency.value);
        return start.call(this, at);
      };`);
    await page.reload();
    await says('Ready to scan');
    const tones = () => page.evaluate('window.tones.splice(0)');
    const { powerhead, lowerUnit } = await freshPair();
    await scan(powerhead);
    await says(`Powerhead ${powerhead}`);
    expect(await tones()).toEqual(['sine 880']);
    await scan('NOBODY-1');
    await says('No unit has the serial NOBODY-1.');
    expect(await tones()).toEqual(['square 220', 'square 165']);
    await scan(lowerUnit);
    await says('is set');
    expect(await tones()).toEqual(['sine 660', 'sine 990']);
    await page.locator('#place summary').click();
    await page.getByLabel('Sounds').uncheck();
    await page.getByRole('button', { name: 'Keep' }).click();
    await scan('NOBODY-1');
    await says('No unit has the serial NOBODY-1.');
    expect(await tones()).toEqual([]);
  });

  it('shows what to build, and why earlier orders are passed over', async () => {
    await plant.make('configuration', '/v1/models', {
      code: 'F100X',
      name: 'Hundred, extra long shaft',
      ratedPowerKw: 73.5,
    });
    const urgent = await order(plant, 2, { model: 'F100X', priority: 1 });
    const { powerhead, lowerUnit } = await freshPair();
    await page.reload();
    const next = page.locator('#next-panel');
    await next.getByText(`Order ${orderNumber}`).waitFor();
    const text = await next.textContent();
    expect(text).toContain(urgent);
    expect(text).toContain('No configuration of model F100X is in force.');
    expect(text).toContain(powerhead);
    expect(text).toContain(lowerUnit);
    await plant.make('configuration', `/v1/orders/${urgent}/closure`, { reason: 'Test is over' });
    await scan(powerhead);
    await scan(lowerUnit);
    await says('is set');
  });

  describe('a refused scan', () => {
    const holding = { cause: 'quality', reason: 'Casting to be looked at' };

    it('of one half is told at once, with what to do; another one takes its place', async () => {
      const { powerhead, lowerUnit } = await freshPair();
      const held = await enter(plant, 'powerhead');
      await holdBecause(plant, 'powerhead', held, holding);
      await scan(held);
      await says('The unit is on hold');
      const text = await page.locator('#answer-urgent').textContent();
      expect(text).toContain('Casting to be looked at');
      expect(text).toContain('Quality lifts holds.');
      expect(text).toContain('Put it aside and scan another powerhead.');
      expect(await page.locator('#answer-urgent .kind').textContent()).toBe('Refused');
      await scan(powerhead);
      await says(`Powerhead ${powerhead}`);
      await scan(lowerUnit);
      await says('is set');
      expect(await setsOf(powerhead)).toHaveLength(1);
    });

    it('of a pair is recorded, and leaves neither half behind to be set with the next', async () => {
      const { powerhead, lowerUnit } = await freshPair();
      const held = await enter(plant, 'powerhead');
      await holdBecause(plant, 'powerhead', held, holding);
      await scan(held);
      await says('The unit is on hold');
      await scan(lowerUnit);
      await says('Nothing was set.');
      expect((await attempts()).at(-1)).toMatchObject({
        powerhead: held,
        lowerUnit,
        outcome: 'on-hold',
      });
      expect(await card('powerhead').textContent()).toContain('Not scanned yet');
      expect(await card('lower-unit').textContent()).toContain('Not scanned yet');
      expect(await faultsInAllLooks(page, 'set-station-refused')).toEqual([]);
      await scan(powerhead);
      await says('Now scan the lower unit.');
      expect(await setsOf(powerhead)).toEqual([]);
    });

    it('of two that do not go together says which parts', async () => {
      const powerhead = await enter(plant, 'powerhead');
      const part = { number: 'LU-25', revision: 'A' };
      const lowerUnit = await enter(plant, 'lower-unit', { part });
      await scan(powerhead);
      await scan(lowerUnit);
      await says(/No configuration in force takes powerhead PH-100 .* with lower unit LU-25/);
    });

    it('of what is neither half nor order says what it is', async () => {
      const pump = await enter(plant, 'fuel-pump');
      await scan(pump);
      await says(`${pump} is a fuel pump; scan a powerhead, a lower unit or an order here.`);
      await scan('NOBODY-1');
      await says('No unit has the serial NOBODY-1.');
    });

    it('of a serial that both halves have asks which, and takes the answer', async () => {
      await enter(plant, 'powerhead', { serial: 'TWIN-1' });
      await enter(plant, 'lower-unit', { serial: 'TWIN-1' });
      await scan('TWIN-1');
      await says('Which of the two is it?');
      await page.getByRole('button', { name: 'The lower unit' }).click();
      await says('Lower unit TWIN-1');
      expect(await page.evaluate('document.activeElement.id')).toBe('scan');
    });
  });

  describe('the order', () => {
    it('is chosen by its scan, remembered, and left when it is complete', async () => {
      const small = await order(plant, 1, { priority: 9 });
      const { powerhead, lowerUnit } = await freshPair();
      await scan(small);
      await says(`Order ${small}`);
      await page.reload();
      await card('order').getByText('0 of 1 set').waitFor();
      await scan(powerhead);
      await scan(lowerUnit);
      await says('is set');
      expect((await setsOf(powerhead))[0]).toMatchObject({ order: small });
      await card('order').getByText('1 of 1 set').waitFor();
      const next = await freshPair();
      await scan(next.powerhead);
      await scan(next.lowerUnit);
      await says(`Order ${small} is complete: 1 of 1 motors are set.`);
      await page.getByRole('button', { name: 'Build for the most urgent order instead' }).click();
      await page.keyboard.press('Escape');
      await scan(next.powerhead);
      await scan(next.lowerUnit);
      await says('is set');
      expect(await page.locator('#answer-calm').textContent()).toContain(orderNumber);
    });

    it('that has nothing left to build is not chosen', async () => {
      const closed = await order(plant);
      await plant.make('configuration', `/v1/orders/${closed}/closure`, { reason: 'Cancelled' });
      await scan(closed);
      await says(`Order ${closed} is closed: Cancelled`);
      expect(await card('order').textContent()).toContain('The most urgent that fits');
    });
  });

  describe('by keyboard alone', () => {
    it('the field has the focus, what is typed elsewhere goes into it, and nothing traps', async () => {
      const focused = () =>
        page.evaluate('document.activeElement.id || document.activeElement.textContent');
      expect(await focused()).toBe('scan');
      await page.keyboard.press('Tab');
      expect(await focused()).toBe('Take');
      const { powerhead } = await freshPair();
      await scan(powerhead);
      await says(`Powerhead ${powerhead}`);
      expect(await focused()).toBe('scan');
      await page.locator('body').click({ position: { x: 5, y: 300 } });
      expect(await focused()).toBe('scan');
      await page.keyboard.press('Shift+Tab');
      expect(await focused()).not.toBe('scan');
    });

    it('station and order are chosen and kept', async () => {
      await page.locator('#place summary').focus();
      await page.keyboard.press('Enter');
      await page.keyboard.press('Tab');
      await page.keyboard.press('Control+a');
      await page.keyboard.type('SET-7');
      await page.keyboard.press('Tab');
      await page.keyboard.type(orderNumber);
      await page.keyboard.press('Tab');
      await page.keyboard.press('Tab');
      await page.keyboard.press('Enter');
      await says('This is SET-7');
      await card('order').getByText(orderNumber).waitFor();
      await page.reload();
      await says('Station SET-7');
      await card('order').getByText(orderNumber).waitFor();
      expect(new URL(page.url()).searchParams.get('station')).toBe('SET-7');
    });
  });

  describe('when the network drops', () => {
    it('says so, keeps no scan to be set unseen, and goes on when it is back', async () => {
      const { powerhead, lowerUnit } = await freshPair();
      await scan(powerhead);
      await says(`Powerhead ${powerhead}`);
      await station.context.setOffline(true);
      await scan(lowerUnit);
      await says('The service cannot be reached');
      await says(`Not taken, so scan again later: ${lowerUnit}`);
      expect(await page.locator('#answer-urgent .kind').textContent()).toBe('No answer');
      expect(await faultsInAllLooks(page, 'set-station-offline')).toEqual([]);
      await station.context.setOffline(false);
      await says('The service answers again');
      expect(await setsOf(powerhead)).toEqual([]);
      await scan(lowerUnit);
      await says('is set');
      expect(await setsOf(powerhead)).toHaveLength(1);
    });

    it('an answer that was lost is had by scanning again, also after a reload, and sets once', async () => {
      const keys: (string | undefined)[] = [];
      let isLost = true;
      await page.route('**/v1/sets', async (route) => {
        keys.push(route.request().headers()['idempotency-key']);
        if (!isLost) return route.continue();
        // The service carries it out; its answer never arrives.
        await route.fetch();
        return route.abort();
      });
      const { powerhead, lowerUnit } = await freshPair();
      await scan(powerhead);
      await scan(lowerUnit);
      await says(`Powerhead ${powerhead} and lower unit ${lowerUnit} wait for their answer.`);
      expect(await faultsInAllLooks(page, 'set-station-waiting')).toEqual([]);
      expect(await setsOf(powerhead)).toHaveLength(1);

      const other = await freshPair();
      await scan(other.powerhead);
      await says('A pair still waits for its answer');

      await page.reload();
      await says('A pair still waits for its answer');
      isLost = false;
      await scan(lowerUnit);
      await says('is set');
      const [set, ...more] = await setsOf(powerhead);
      expect(more).toEqual([]);
      expect(await answers().textContent()).toContain(String(set?.motor));
      expect(keys).toHaveLength(2);
      expect(new Set(keys).size).toBe(1);
      expect(keys[0]).toMatch(/^[0-9a-f]{32}$/);

      // The pair has its answer: from now on the same scans are a new command.
      await scan(powerhead);
      await says('installed already');
      await scan(lowerUnit);
      await says('Nothing was set.');
      expect(keys).toHaveLength(3);
      expect(new Set(keys).size).toBe(2);
      expect((await attempts()).at(-1)).toMatchObject({ powerhead, outcome: 'already-installed' });
    });

    it('a pair that waits can be forgotten, which says that it may have been set', async () => {
      await page.route('**/v1/sets', (route) => route.abort());
      const { powerhead, lowerUnit } = await freshPair();
      await scan(powerhead);
      await scan(lowerUnit);
      await says('wait for their answer');
      await page.getByRole('button', { name: 'Forget this pair' }).click();
      await says('It may have been set all the same: look at the last sets.');
      await page.unroute('**/v1/sets');
      await scan(powerhead);
      await says('Now scan the lower unit.');
    });

    it('a service that is too busy is told in its own words, and the pair waits', async () => {
      const overloaded = {
        type: '/problems/overloaded',
        title: 'The service is at its limit',
        status: 503,
        detail: 'Too much is waiting.',
      };
      await page.route('**/v1/sets', (route) =>
        route.fulfill({ status: 503, contentType: 'application/problem+json', json: overloaded }),
      );
      const { powerhead, lowerUnit } = await freshPair();
      await scan(powerhead);
      await scan(lowerUnit);
      await says('Too much is waiting.');
      await page.unroute('**/v1/sets');
      await page.getByRole('button', { name: 'Send again' }).click();
      await says('is set');
    });
  });

  it('tells when the session has ended, and the waiting pair outlives signing in again', async () => {
    const { powerhead, lowerUnit } = await freshPair();
    await scan(powerhead);
    await says(`Powerhead ${powerhead}`);
    await page.route('**/v1/sets', async (route) => {
      await plant.service.store.command((records) => records.sessions.expire(plant.now, 1000));
      await route.continue();
    });
    await scan(lowerUnit);
    await says('You are signed out');
    await page.unrouteAll();
    await page.getByRole('link', { name: 'Sign in again' }).click();
    await page.getByLabel('Key', { exact: true }).fill(plant.tokens.get('set') ?? '');
    await page.keyboard.press('Enter');
    await says('A pair still waits for its answer');
    await page.getByRole('button', { name: 'Send again' }).click();
    await says('is set');
    expect(await setsOf(powerhead)).toHaveLength(1);
  });

  it('lets a half go that nothing follows, so that the next is not set with it', async () => {
    await page.clock.install();
    await page.reload();
    await says('Ready to scan');
    const { powerhead, lowerUnit } = await freshPair();
    await scan(powerhead);
    await says(`Powerhead ${powerhead}`);
    await page.clock.runFor(SIX_MINUTES);
    await says(`${powerhead} was let go`);
    await scan(lowerUnit);
    await says('Now scan the powerhead.');
    expect(await setsOf(powerhead)).toEqual([]);
  });

  it('closes the form for station and order when nobody goes on with it', async () => {
    await page.clock.install();
    await page.reload();
    await says('Ready to scan');
    await page.locator('#place summary').click();
    await page.getByLabel('This station').focus();
    await page.clock.runFor(SIX_MINUTES);
    expect(await page.locator('#place').getAttribute('open')).toBeNull();
    expect(await page.evaluate('document.activeElement.id')).toBe('scan');
  });

  it('says of a motor that joins a containment that quality is to be called', async () => {
    await page.locator('#place summary').click();
    await page.getByLabel('This station').fill('SET-9');
    await page.keyboard.press('Enter');
    await says('This is SET-9');
    const where = { station: { name: 'SET-9' } };
    await plant.make('quality', '/v1/containments', { title: 'Fixture of SET-9 is off', where });
    const { powerhead, lowerUnit } = await freshPair();
    await scan(powerhead);
    await scan(lowerUnit);
    await says('is set');
    await says(/Fixture of SET-9 is off, and is on hold. Call quality./);
    expect(await page.locator('#answer-urgent .kind').textContent()).toBe('Caution');
  });

  it('shows well and is clean for access at every step, and asks no other host', async () => {
    const hosts = new Set<string>();
    page.on('request', (request) => void hosts.add(new URL(request.url()).host));
    await page.reload();
    await says('Ready to scan');
    expect(await faultsInAllLooks(page, 'set-station-ready')).toEqual([]);
    const { powerhead, lowerUnit } = await freshPair();
    await scan(orderNumber);
    await says(`Order ${orderNumber}`);
    await scan(powerhead);
    await says(`Powerhead ${powerhead}`);
    expect(await faultsInAllLooks(page, 'set-station-half')).toEqual([]);
    await scan(lowerUnit);
    await says('is set');
    await page.locator('#place summary').click();
    expect(await faultsInAllLooks(page, 'set-station-done')).toEqual([]);
    expect([...hosts]).toEqual([new URL(plant.service.address).host]);
    expect(station.complaints).toEqual([]);
  });
});
