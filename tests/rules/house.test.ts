import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, normalize, relative } from 'node:path';
import { describe, expect, it } from 'vitest';
import { packageFile } from '../../src/package-root.js';

const src = packageFile('src');
const files = readdirSync(src, { recursive: true, encoding: 'utf8' }).filter((one) =>
  one.endsWith('.ts'),
);

/** What a file imports at run time: type-only imports leave nothing behind. */
function importsOf(file: string): string[] {
  const text = readFileSync(join(src, file), 'utf8');
  return [...text.matchAll(/^(?:import|export) (?!type\b)[^;]*?from '(\.[^']+)';/gms)].map(
    (match) =>
      relative(src, normalize(join(src, dirname(file), (match[1] ?? '').replace(/\.js$/, '.ts')))),
  );
}

const graph = new Map(files.map((file) => [file, importsOf(file)]));

function reaches(from: string, forbidden: RegExp): string[] {
  return (graph.get(from) ?? []).filter((file) => forbidden.test(file));
}

function cycleFrom(file: string, path: readonly string[], done: Set<string>): string[] | undefined {
  if (path.includes(file)) return [...path.slice(path.indexOf(file)), file];
  if (done.has(file)) return undefined;
  for (const next of graph.get(file) ?? []) {
    const cycle = cycleFrom(next, [...path, file], done);
    if (cycle) return cycle;
  }
  done.add(file);
  return undefined;
}

describe('the house', () => {
  it('is read whole: every import is of a file that is there', () => {
    expect(files.length).toBeGreaterThan(80);
    for (const imports of graph.values()) {
      for (const file of imports) expect(files).toContain(file);
    }
  });

  it('has no imports in a circle', () => {
    const done = new Set<string>();
    for (const file of files) expect(cycleFrom(file, [], done)).toBeUndefined();
  });

  it.each(files.filter((file) => /rules\.ts$|^(statistics|scan|measurement)\//.test(file)))(
    '%s is pure: it reaches no HTTP, no SQL and no clock',
    (file) => {
      expect(reaches(file, /records|actions|routes|^http\/|^store\/|^time\.ts/)).toEqual([]);
      const text = readFileSync(join(src, file), 'utf8');
      expect(text).not.toMatch(/Date\.now|new Date\(\)|better-sqlite3|from 'express'/);
    },
  );

  it.each(files.filter((file) => file.endsWith('records.ts')))(
    '%s knows neither actions nor routes',
    (file) => {
      expect(reaches(file, /actions\.ts|routes\.ts|\/mount\.ts/)).toEqual([]);
    },
  );

  it.each(files.filter((file) => /(^|-)actions\.ts$/.test(file.split('/').at(-1) ?? '')))(
    '%s writes no state table by itself',
    (file) => {
      const text = readFileSync(join(src, file), 'utf8');
      expect(text).not.toMatch(/\b(INSERT|UPDATE|DELETE)\b|from 'better-sqlite3'|from 'express'/);
    },
  );

  it('has pages that nothing but the application itself imports', () => {
    const outside = files.filter((file) => !file.startsWith('pages/') && file !== 'app.ts');
    for (const file of outside) expect([file, reaches(file, /^pages\//)]).toEqual([file, []]);
  });

  it.each(files.filter((file) => /^pages\/(scripts|words)\/|^pages\/format\.ts$/.test(file)))(
    '%s runs in a browser: it reaches nothing of the service',
    (file) => {
      expect(reaches(file, /^(?!pages\/(scripts|words)\/|pages\/format\.ts$)/)).toEqual([]);
    },
  );

  it('has pages that ask and never tell: no page records an event or runs an action', () => {
    for (const file of files.filter((one) => one.startsWith('pages/'))) {
      const text = readFileSync(join(src, file), 'utf8');
      expect([file, text.match(/\.record\(|\b(INSERT|UPDATE|DELETE)\b/)]).toEqual([file, null]);
    }
  });

  it('has events applied without a clock or a setting', () => {
    for (const file of files.filter((one) => one.endsWith('events.ts'))) {
      const text = readFileSync(join(src, file), 'utf8');
      expect(text).not.toMatch(/Date\.now|new Date\(\)|settings/);
    }
  });
});
