import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeDocument, problemsOf } from '../../src/http/document.js';
import { problemOf } from '../../src/http/problem-response.js';
import { Problem, type ProblemSlug, problemCatalogue } from '../../src/problems.js';
import { routes } from '../../src/routes.js';
import { OverloadedError, StorageError } from '../../src/store/errors.js';
import { DeadlineError } from '../../src/store/workers.js';
import { TestPlant } from '../support/plant.js';
import { exchange } from '../support/wire.js';

const slugs = Object.keys(problemCatalogue) as ProblemSlug[];

/** The text of every source file but the catalogue itself. */
const sources = readdirSync('src', { recursive: true, encoding: 'utf8' })
  .filter((file) => file.endsWith('.ts') && file !== 'problems.ts')
  .map((file) => readFileSync(join('src', file), 'utf8'));

describe('the catalogue of problems', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
  });
  afterAll(() => plant.stop());

  it('has a page for each, which tells the same title and status', async () => {
    for (const slug of slugs) {
      const [status, title, about] = problemCatalogue[slug];
      const answer = await exchange(plant, { path: `/problems/${slug}` });
      expect(answer.status).toBe(200);
      expect(answer.body).toEqual({ type: `/problems/${slug}`, title, status, about });
      expect(about.length).toBeGreaterThan(0);
    }
  });

  it('is listed whole', async () => {
    const answer = await exchange(plant, { path: '/problems' });
    const types = (answer.body.items as { type: string }[]).map((one) => one.type);
    expect(types).toEqual(slugs.map((slug) => `/problems/${slug}`));
  });

  it('has no page for what is none, nor for what every object bears', async () => {
    for (const slug of ['nothing', 'constructor', '__proto__', 'toString', '%zz']) {
      const answer = await exchange(plant, { path: `/problems/${slug}` });
      expect([slug, answer.status]).toEqual([slug, slug === '%zz' ? 400 : 404]);
    }
  });

  it('holds error statuses and stable names alone', () => {
    for (const slug of slugs) {
      expect(slug).toMatch(/^[a-z]+(-[a-z]+)*$/);
      expect(problemCatalogue[slug][0]).toBeGreaterThanOrEqual(400);
      expect(problemCatalogue[slug][0]).toBeLessThan(600);
    }
  });

  it('holds nothing that the source never answers', () => {
    const unused = slugs.filter((slug) => !sources.some((text) => text.includes(`'${slug}'`)));
    expect(unused).toEqual([]);
  });

  it('holds everything that the source throws', () => {
    const thrown = sources.flatMap((text) =>
      [...text.matchAll(/new Problem\(\s*'([^']+)'/g)].map((match) => match[1]),
    );
    expect(thrown.length).toBeGreaterThan(40);
    expect(thrown.filter((slug) => !slugs.includes(slug as ProblemSlug))).toEqual([]);
  });

  it('is what each route declares, and the document lists it under its status', () => {
    const document = makeDocument(routes) as unknown as {
      paths: Record<
        string,
        Record<string, { responses: Record<string, { description: string; content: object }> }>
      >;
    };
    for (const route of routes) {
      const responses = document.paths[route.path]?.[route.method]?.responses ?? {};
      for (const slug of problemsOf(route)) {
        const [status, title] = problemCatalogue[slug];
        const response = responses[status];
        expect(response?.description).toContain(`\`${slug}\`: ${title}.`);
        expect(Object.keys(response?.content ?? {})).toEqual(['application/problem+json']);
      }
    }
  });

  it('has no problem that no route declares, but those of addresses themselves', () => {
    const declared = new Set(routes.flatMap((route) => problemsOf(route)));
    const rest = slugs.filter((slug) => !declared.has(slug));
    expect(rest).toEqual(['route-unknown', 'method-not-allowed']);
  });
});

describe('an error', () => {
  it.each([
    [new OverloadedError('x'), 'overloaded', 503],
    [new StorageError('x'), 'storage-unavailable', 503],
    [Object.assign(new Error('x'), { code: 'SQLITE_FULL' }), 'storage-unavailable', 503],
    [Object.assign(new Error('x'), { code: 'SQLITE_IOERR_WRITE' }), 'storage-unavailable', 503],
    [Object.assign(new Error('x'), { code: 'SQLITE_BUSY' }), 'storage-unavailable', 503],
    [Object.assign(new Error('x'), { code: 'SQLITE_CORRUPT' }), 'storage-unavailable', 503],
    [Object.assign(new Error('x'), { code: 'SQLITE_CONSTRAINT' }), 'internal-error', 500],
    [new DeadlineError('x'), 'question-too-long', 503],
    [new URIError('x'), 'request-invalid', 400],
    [new TypeError('secret inside'), 'internal-error', 500],
    ['text', 'internal-error', 500],
    [null, 'internal-error', 500],
    [undefined, 'internal-error', 500],
  ])('%s becomes %s', (error, slug, status) => {
    const problem = problemOf(error);
    expect([problem.slug, problem.status]).toEqual([slug, status]);
    expect(JSON.stringify(problem.document())).not.toContain('secret');
  });

  it('that is a problem stays itself', () => {
    const problem = new Problem('on-hold', 'Held.', { holds: [1] });
    expect(problemOf(problem)).toBe(problem);
    expect(problem.document()).toEqual({
      type: '/problems/on-hold',
      title: 'The unit is on hold',
      status: 409,
      detail: 'Held.',
      holds: [1],
    });
  });
});
