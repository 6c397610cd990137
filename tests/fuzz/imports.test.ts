import { randomUUID } from 'node:crypto';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { IMPORT_LINE_LIMIT, readCsv } from '../../src/http/csv-import.js';
import { Problem } from '../../src/problems.js';
import { TestPlant } from '../support/plant.js';
import { furnish } from '../support/scenario.js';
import { exchange, type WireAnswer } from '../support/wire.js';
import { computing, spoiltBytes } from './support/bytes.js';
import { importFiles } from './support/chapters.js';

const RUNS = Number(process.env.SKEG_FUZZ ?? 20_000);
const LIMIT = 2 * 1024 * 1024;

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
  for (const code of ['M-1', 'M-2']) {
    await plant.make('configuration', '/v1/models', { code, name: 'A model', ratedPowerKw: 40 });
  }
});
afterAll(() => plant.stop());

const imports = [
  ['configurations', 'configuration', importFiles.configurations],
  ['specifications', 'quality', importFiles.specifications],
] as const;

function send(table: string, as: string, body: string | Buffer): Promise<WireAnswer> {
  const headers = { 'Content-Type': 'text/csv', 'Idempotency-Key': randomUUID() };
  return exchange(plant, { method: 'POST', path: `/v1/${table}/import`, as, headers, body });
}

const errors = () => plant.logLines.filter((line) => line.includes('"level":50'));

describe.each(imports)('an import of %s', (table, as, file) => {
  it('is answered whatever bytes the file has, and writes nothing that it refuses', async () => {
    const { seed = 0 } = fc.readConfigureGlobal();
    const statuses = new Set<number>();
    for (const bytes of fc.sample(spoiltBytes([file], 5000), { numRuns: RUNS / 80, seed })) {
      const before = plant.eventCount();
      const answer = await send(table, as, bytes);
      const told = `${bytes.toString('latin1')}\n${answer.text}\n${errors().at(-1)}`;
      expect([201, 400, 422], told).toContain(answer.status);
      if (answer.status !== 201) expect(plant.eventCount(), told).toBe(before);
      statuses.add(answer.status);
    }
    // Read as UTF-8, and then as CSV: neither is where the search ends.
    expect([...statuses].sort()).toEqual(expect.arrayContaining([400, 422]));
    expect(errors()).toEqual([]);
  }, 60_000);

  const [header = '', line = ''] = file.split('\r\n');
  const columns = header.split(',').length;
  const hostile: [string, string][] = [
    ['a header of nothing but new columns', numbered(300_000).join(',')],
    ['a header of nothing but commas', ','.repeat(LIMIT - 1)],
    ['lines of one character', 'a\n'.repeat(LIMIT / 2)],
    ['empty lines', `${header}\n${'\r\n'.repeat(900_000)}`],
    ['quotation marks', '"'.repeat(LIMIT)],
    ['one cell', `${header}\n"${'x'.repeat(LIMIT - header.length - 3)}"`],
    ['one line of commas', `${header}\n${','.repeat(LIMIT - header.length - 1)}`],
    ['full lines of one thing', upTo(`${header}\n`, `${line}\r\n`)],
    ['lines in which every cell is wrong', upTo(`${header}\n`, `${'~,'.repeat(columns - 1)}~\n`)],
    ['lines in which most is wrong', upTo(`${header}\n`, wrongLine(header))],
    ['full lines of many things', manyThings(header, line)],
    [
      'lines with a name that every object has',
      `${header}\n${'constructor,'.repeat(columns - 1)}x`,
    ],
    ['kinds with a name that every object has', withKinds('constructor', '__proto__', 'toString')],
  ];
  it.each(hostile)(
    'is answered in good time: %s',
    async (_name, text) => {
      let answer: WireAnswer | undefined;
      const before = plant.eventCount();
      const spent = await computing(async () => {
        answer = await send(table, as, text);
      });
      expect([201, 422], answer?.text.slice(0, 500)).toContain(answer?.status);
      if (answer?.status !== 201) expect(plant.eventCount()).toBe(before);
      expect(errors()).toEqual([]);
      // Where time grows with the square of the file, it is minutes; a scanner waits as long.
      expect(spent).toBeLessThan(5000);
    },
    120_000,
  );

  function withKinds(...kinds: string[]): string {
    const at = Math.max(header.split(',').indexOf('kind'), 0);
    const lines = kinds.map((kind) => {
      const cells = line.replaceAll(/"[^"]*(""[^"]*)*"/g, 'x').split(',');
      cells[at] = kind;
      return cells.join(',');
    });
    return [header, ...lines].join('\n');
  }
});

function numbered(count: number): string[] {
  return Array.from({ length: count }, (_, i) => i.toString(36));
}

/** A line of the kind that has most columns, with something wrong in each, or much. */
function wrongLine(header: string): string {
  const own: Record<string, string> = { kind: 'derived', inputs: '~ ~ ~ ~ ~ ~ ~ ~ ~ ~ ~' };
  const cells = header.split(',').map((column) => own[column] ?? '~!');
  return `${cells.join(',')}\n`;
}

/** As many lines as an import takes, each with a code of its own. */
function manyThings(header: string, line: string): string {
  const fitting = Math.min(IMPORT_LINE_LIMIT, Math.floor(LIMIT / (line.length + 10)));
  const lines = numbered(fitting).map((code) =>
    line.replace('I-1', `I-${code}`).replace('speed', `s-${code}`),
  );
  return [header, ...lines].join('\n');
}

/** As many lines as an import takes, as far as its bytes reach. */
function upTo(start: string, line: string): string {
  const fitting = Math.floor((LIMIT - start.length) / line.length);
  return start + line.repeat(Math.min(IMPORT_LINE_LIMIT, fitting));
}

describe('the CSV reader', () => {
  it('gives lines or a refusal for any text, and every line has the columns of the header', () => {
    const texts = imports.map(([, , file]) => file);
    let read = 0;
    fc.assert(
      fc.property(spoiltBytes(texts, 3000), (bytes) => {
        try {
          const lines = readCsv(bytes.toString('utf8'), [], knownColumns);
          const [first] = lines;
          for (const { cells } of lines) {
            expect(Object.keys(cells)).toEqual(Object.keys(first?.cells ?? {}));
          }
          read += 1;
        } catch (error) {
          if (!(error instanceof Problem)) throw error;
          expect(error.slug).toBe('import-faulty');
        }
      }),
      { numRuns: RUNS / 20 },
    );
    expect(read).toBeGreaterThan(RUNS / 2000);
  });
});

const knownColumns = imports.flatMap(([, , file]) => (file.split('\r\n')[0] ?? '').split(','));
