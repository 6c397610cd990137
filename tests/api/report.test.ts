import { createHash } from 'node:crypto';
import type { Response } from 'supertest';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeDocument } from '../../src/http/document.js';
import { routes } from '../../src/routes.js';
import { TestPlant } from '../support/plant.js';
import {
  closeRepair,
  enter,
  failing,
  furnish,
  holdBecause,
  openRun,
  order,
  runMotor,
  setMotor,
} from '../support/scenario.js';

const nasty = `<script>alert("x")</script> & 'so' on`;

describe('the report of a serial', () => {
  let plant: TestPlant;
  const at = { motor: '', other: '', powerhead: '', lowerUnit: '', pump: '', spare: '', order: '' };
  let beforeRepair: string;
  let page: Response;

  const report = (query: string, headers: Record<string, string> = {}) =>
    plant.get('read', `/v1/report?${query}`, { headers, undocumented: true });

  /** The text of a section, without its tags. */
  function section(answer: Response, id: string): string {
    const [, rest = ''] = answer.text.split(`<section aria-labelledby="${id}">`);
    const [inside = ''] = rest.split('</section>');
    return inside.replaceAll(/<[^>]*>/g, ' ').replaceAll(/[ \n]+/g, ' ');
  }

  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    at.pump = await enter(plant, 'fuel-pump');
    at.spare = await enter(plant, 'fuel-pump');
    at.powerhead = await enter(plant, 'powerhead', {
      components: [{ class: 'fuel-pump', serial: at.pump }],
    });
    at.lowerUnit = await enter(plant, 'lower-unit', {
      lots: [{ part: 'PRIMER', revision: '1', lot: 'L-77' }],
      inspection: { result: 'accepted', note: nasty },
    });
    at.order = await order(plant);
    plant.wait(1000);
    const set = await plant.make<{ motor: string }>('set', '/v1/sets', {
      powerhead: at.powerhead,
      lowerUnit: at.lowerUnit,
      order: at.order,
      station: 'SET-1',
    });
    at.motor = set.motor;
    const first = await runMotor(plant, at.motor, failing);
    plant.wait(1000);
    beforeRepair = new Date(plant.now).toISOString();
    plant.wait(1000);
    await plant.make('repair', `/v1/repairs/${first.repair}/exchanges`, {
      parentClass: 'powerhead',
      parent: at.powerhead,
      position: 'fuel-pump',
      removed: at.pump,
      fitted: { class: 'fuel-pump', serial: at.spare },
    });
    await closeRepair(plant, first.repair ?? 0);
    await runMotor(plant, at.motor);
    at.other = (await setMotor(plant)).motor;
    await runMotor(plant, at.other);
    await plant.make('quality', '/v1/releases', { motors: [at.motor, at.other] });
    plant.wait(1000);
    await plant.make('quality', '/v1/containments', {
      title: 'Primer <b>L-77</b>',
      where: { lot: { part: 'PRIMER', lot: 'L-77' } },
    });
    await holdBecause(plant, 'motor', at.motor, { cause: 'quality', reason: nasty });
    page = await report(`serial=${at.motor}`);
  });
  afterAll(() => plant.stop());

  it('is one HTML document that the API document describes, and is not kept by caches', () => {
    expect(page.status).toBe(200);
    expect(page.headers['content-type']).toBe('text/html; charset=utf-8');
    expect(page.headers['cache-control']).toBe('no-store');
    expect(page.headers.vary).toBe('Accept');
    expect(page.text).toMatch(/^<!doctype html>\n<html lang="en">/);
    expect(page.headers['content-disposition']).toBe(
      `inline; filename="report-motor-${at.motor}.html"`,
    );
    const document = JSON.parse(JSON.stringify(makeDocument(routes)));
    const { content } = document.paths['/v1/report'].get.responses['200'];
    expect(Object.keys(content)).toEqual(['text/html', 'application/pdf']);
  });

  it('tells identity, tree, lots, inspections, fastenings and set', () => {
    expect(section(page, 'identity')).toContain('Rated power 73.5 kW');
    expect(section(page, 'identity')).toContain('Shaft length 508 mm');
    expect(section(page, 'as-built')).toMatch(
      new RegExp(
        `Motor .*${at.lowerUnit}.*LU-20 revision A.*${at.powerhead}.*Fuel pump.*${at.spare}`,
      ),
    );
    expect(section(page, 'as-built')).not.toContain(at.pump);
    expect(section(page, 'lots')).toContain('L-77 PRIMER revision 1 Primer');
    expect(section(page, 'inspections')).toContain('paint inspection');
    expect(section(page, 'fastenings')).toContain('30\u00a0N·m (28 to 32\u00a0N·m)');
    expect(section(page, 'fastenings')).toContain('90° (85 to 95°) inside');
    expect(section(page, 'set')).toContain(`${at.order} F100L-A revision 1 ${at.powerhead}`);
  });

  it('shows every run with its readings against the limits that were in force', () => {
    const runs = section(page, 'runs');
    expect(runs).toContain('Run 1: FAILED');
    expect(runs).toContain('Run 2: passed');
    // Limits and guard band of the test catalogue: 50 to 150 kPa, 5 kPa narrower on both sides.
    expect(runs).toContain('20.0\u00a0kPa 50 to 150\u00a0kPa 55 to 145\u00a0kPa DOES NOT CONFORM');
    expect(runs).toContain('100.0\u00a0kPa 50 to 150\u00a0kPa 55 to 145\u00a0kPa conforms 1.00');
    expect(runs).toContain('Telltale runs telltale yes expected: yes conforms');
    expect(page.text.match(/<svg class="gauge"/g)).toHaveLength(4);
    expect(runs).toMatch(/carbon monoxide/);
  });

  it('tells repair, exchange, hold, containment, release and timeline', () => {
    expect(section(page, 'repairs')).toContain('low-pressure impeller replaced');
    expect(section(page, 'repairs')).toContain(`Fuel pump ${at.pump} Fuel pump ${at.spare}`);
    expect(section(page, 'holds')).toContain('STILL ON HOLD');
    expect(section(page, 'containments')).toContain('NONE YET');
    expect(section(page, 'release')).toContain('run 2');
    expect(section(page, 'timeline')).toContain('Released to shipping');
  });

  it('escapes every text that people wrote', () => {
    expect(page.text).not.toContain('<script');
    expect(page.text).not.toContain('<b>L-77');
    expect(page.text.split(/&lt;script&gt;alert\(&quot;x&quot;\)/).length).toBeGreaterThan(3);
  });

  it('needs no script and nothing from elsewhere, under a policy that allows its style alone', () => {
    expect(page.text).not.toMatch(
      /<(script|link|img|iframe|object|form)\b|\son\w+=|url\(|@import/i,
    );
    expect(page.text).not.toMatch(/\sstyle="/);
    const [, style = ''] = /<style>([\s\S]*?)<\/style>/.exec(page.text) ?? [];
    const hash = createHash('sha256').update(style).digest('base64');
    const policy = page.headers['content-security-policy'];
    expect(policy).toBe(
      `default-src 'none'; style-src 'sha256-${hash}'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'`,
    );
    expect(page.text.match(/<style>/g)).toHaveLength(1);
  });

  it('has a caption for each table and headings that name their columns and rows', () => {
    const tables = page.text.match(/<table[\s\S]*?<\/table>/g) ?? [];
    expect(tables.length).toBeGreaterThan(9);
    for (const table of tables) {
      expect(table).toMatch(/^<table role="table">\n<caption>[^<]+/);
      expect(table).toContain('<th role="columnheader" scope="col"');
      expect(table).toContain('<th role="rowheader" scope="row"');
    }
  });

  it('ends with the journal that it rests on, and says what it does not settle', () => {
    const last = plant.service.store.reading.journal.last();
    const [, foot = ''] = page.text.split('<footer>');
    expect(foot).toContain(`a journal of ${plant.eventCount()} events`);
    expect(foot).toContain(`<code>${last?.hash.toString('hex')}</code>`);
    expect(foot).toContain('for key read key');
    expect(foot).toMatch(/does not settle them.*certifying authority/s);
  });

  it('as of a time before the repair: the old pump, no second run, no release', async () => {
    const then = await report(`serial=${at.motor}&asOf=${beforeRepair}`);
    expect(section(then, 'as-built')).toContain(at.pump);
    expect(section(then, 'as-built')).not.toContain(at.spare);
    expect(section(then, 'runs')).not.toContain('Run 2');
    expect(section(then, 'release')).toContain('It was not released.');
    expect(section(then, 'containments')).toContain('No containment picked it.');
    expect(section(then, 'repairs')).toContain('No part was exchanged');
  });

  it('of a component that was taken out: its own tree, and the run it failed in', async () => {
    const old = await report(`serial=${at.pump}&class=fuel-pump`);
    expect(old.text).toContain(`<h1>Fuel pump ${at.pump}: report</h1>`);
    expect(section(old, 'identity')).toContain('Motor that it is in none');
    expect(section(old, 'runs')).toContain('Run 1: FAILED');
    expect(section(old, 'runs')).not.toContain('Run 2');
  });

  it('of an open run: what the cell has posted, unjudged; of a motor not tested: a sentence', async () => {
    const powerhead = await enter(plant, 'powerhead');
    const lowerUnit = await enter(plant, 'lower-unit');
    const pair = { powerhead, lowerUnit, order: await order(plant), station: 'SET-1' };
    const { motor } = await plant.make<{ motor: string }>('set', '/v1/sets', pair);
    expect(section(await report(`serial=${motor}`), 'runs')).toContain('No test run is recorded.');
    const run = await openRun(plant, motor);
    await plant.make('cell', `/v1/runs/${run}/batches`, {
      sequence: 1,
      readings: [
        { code: 'water-pressure', value: 9, unit: 'bar' },
        { code: 'water-pressure', value: 1, unit: 'bar' },
        { code: 'telltale', value: false },
      ],
    });
    const runs = section(await report(`serial=${motor}`), 'runs');
    expect(runs).toContain('open, no verdict');
    expect(runs).toContain('Readings posted 3;');
    expect(runs).toContain('water-pressure 1\u00a0bar');
    expect(runs).toContain('telltale no');
    expect(runs).not.toContain('9\u00a0bar');
  });

  it('counts the other motors of a batch that it was released with, and names none', () => {
    expect(section(page, 'timeline')).toContain(`Released to shipping ${at.motor} and 1 other`);
    expect(page.text).not.toContain(at.other);
  });

  it('is refused for an unknown serial, an unknown parameter and a form it does not have', async () => {
    const unknown = await plant.get('read', '/v1/report?serial=NOBODY');
    expect(unknown.body.type).toBe('/problems/serial-unknown');
    const odd = await plant.get('read', `/v1/report?serial=${at.motor}&paper=a0`);
    expect(odd.body.type).toBe('/problems/request-invalid');
    const csv = await plant.get('read', `/v1/report?serial=${at.motor}`, {
      headers: { Accept: 'text/csv' },
    });
    expect(csv.status).toBe(406);
    expect(csv.body.detail).toBe('This answer is to be had as text/html or application/pdf.');
  });
});
