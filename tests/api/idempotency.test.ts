import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { fingerprintOf, InFlight, KEEP_ANSWERS_MS } from '../../src/http/idempotency.js';
import { Problem } from '../../src/problems.js';
import { TestPlant } from '../support/plant.js';
import { exchange, exchangeText, portOf, posting, refused, secretOf } from '../support/wire.js';

const address = '/v1/part-classes';
const withKey = (key: string) => ({ 'Idempotency-Key': key });

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
});
afterAll(() => plant.stop());

const classCount = async () => (await plant.get('read', address)).body.items.length as number;

describe('a command sent again under its key', () => {
  it('gets the stored answer and changes one thing once', async () => {
    const body = { code: 'once', name: 'Once' };
    const first = await exchange(plant, posting('configuration', address, body, withKey('k-1')));
    const [events, classes] = [plant.eventCount(), await classCount()];
    plant.wait(60_000);
    const second = await exchange(plant, posting('configuration', address, body, withKey('k-1')));
    expect(first.status).toBe(201);
    expect(first.headers['idempotency-replayed']).toBeUndefined();
    expect([second.status, second.text]).toEqual([first.status, first.text]);
    expect(second.headers['idempotency-replayed']).toBe('true');
    expect([plant.eventCount(), await classCount()]).toEqual([events, classes]);
  });

  it('gets the Location of what was made again', async () => {
    const body = { name: 'located', roles: ['read'] };
    const first = await exchange(plant, posting('admin', '/v1/keys', body, withKey('k-loc')));
    const second = await exchange(plant, posting('admin', '/v1/keys', body, withKey('k-loc')));
    expect(first.headers.location).toMatch(/^\/v1\/keys\/\d+$/);
    expect(second.headers.location).toBe(first.headers.location);
  });

  it('may be spaced and ordered otherwise', async () => {
    const first = '{"code":"spaced","name":"Spaced"}';
    const second = '{ "name" : "Sp\\u0061ced",\n "code" : "spaced" }';
    await exchange(plant, posting('configuration', address, first, withKey('k-2')));
    const again = await exchange(plant, posting('configuration', address, second, withKey('k-2')));
    expect(again.status).toBe(201);
    expect(again.headers['idempotency-replayed']).toBe('true');
  });

  it('gets the same refusal, even where it would now succeed', async () => {
    const part = { number: 'W-1', revision: 'A', name: 'W', tracking: 'serial', class: 'late' };
    const first = await exchange(
      plant,
      posting('configuration', '/v1/parts', part, withKey('k-3')),
    );
    expect(first.body.type).toBe('/problems/part-class-unknown');
    await plant.make('configuration', address, { code: 'late', name: 'Late' });
    const before = plant.eventCount();
    const second = await exchange(
      plant,
      posting('configuration', '/v1/parts', part, withKey('k-3')),
    );
    expect([second.status, second.text]).toEqual([first.status, first.text]);
    expect(second.headers['content-type']).toBe('application/problem+json');
    expect(second.headers['idempotency-replayed']).toBe('true');
    expect(plant.eventCount()).toBe(before);
    expect((await plant.post('configuration', '/v1/parts', part)).status).toBe(201);
  });

  it('is refused with another body, another address or another ETag', async () => {
    const body = { code: 'fixed', name: 'Fixed' };
    await exchange(plant, posting('configuration', address, body, withKey('k-4')));
    const others = [
      posting('configuration', address, { ...body, name: 'Other' }, withKey('k-4')),
      posting(
        'configuration',
        '/v1/parts',
        { number: 'P', revision: 'A', name: 'P', tracking: 'lot' },
        withKey('k-4'),
      ),
    ];
    for (const sent of others) await refused(plant, sent, 422, 'idempotency-key-reused');
    const configuration = { code: 'C', model: 'M', powerheadNumber: 'P', lowerUnitNumber: 'L' };
    const put = (etag: string) => ({
      ...posting('configuration', '/v1/configurations/1', configuration, {
        ...withKey('k-5'),
        'If-Match': etag,
      }),
      method: 'PUT',
    });
    await refused(plant, put('"v1"'), 404, 'configuration-unknown');
    await refused(plant, put('"v2"'), 422, 'idempotency-key-reused');
  });

  it('is another caller’s own where the API key is another', async () => {
    const first = posting('configuration', address, { code: 'mine', name: 'Mine' }, withKey('k-6'));
    const second = posting(
      'configuration 2',
      address,
      { code: 'yours', name: 'Yours' },
      withKey('k-6'),
    );
    expect((await exchange(plant, first)).status).toBe(201);
    const answer = await exchange(plant, second);
    expect(answer.status).toBe(201);
    expect(answer.headers['idempotency-replayed']).toBeUndefined();
  });

  it('is not used up by a request that was refused before it was carried out', async () => {
    const bad = posting('configuration', address, { code: 'x y', name: 'Bad' }, withKey('k-7'));
    await refused(plant, bad, 400, 'request-invalid');
    await refused(plant, { ...bad, as: 'read' }, 403, 'forbidden');
    const good = posting('configuration', address, { code: 'x-y', name: 'Good' }, withKey('k-7'));
    expect((await exchange(plant, good)).status).toBe(201);
  });
});

describe('two of the same command at once', () => {
  /** Two requests in one packet on one connection: both are read before either is carried out. */
  async function twins(first: string, second: string, key: string): Promise<string> {
    const token = plant.tokens.get('configuration');
    const text = (body: string, last: boolean) =>
      `POST ${address} HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer ${token}\r\n` +
      `Idempotency-Key: ${key}\r\nContent-Type: application/json\r\n` +
      `Connection: ${last ? 'close' : 'keep-alive'}\r\nContent-Length: ${body.length}\r\n\r\n${body}`;
    return exchangeText(portOf(plant), text(first, false) + text(second, true));
  }

  it('the second is told to come back, and one thing is changed', async () => {
    const before = plant.eventCount();
    const body = '{"code":"twin","name":"Twin"}';
    const answer = await twins(body, body, 'k-8');
    expect(answer).toContain('HTTP/1.1 201 Created');
    expect(answer).toContain('HTTP/1.1 409 Conflict');
    expect(answer).toContain('/problems/idempotency-in-flight');
    expect(answer).toContain('Retry-After: 1');
    expect(plant.eventCount()).toBe(before + 1);
    const later = await exchange(plant, posting('configuration', address, body, withKey('k-8')));
    expect(later.headers['idempotency-replayed']).toBe('true');
  });

  it('a second with another body is told that first of all', async () => {
    const answer = await twins(
      '{"code":"twin-a","name":"Twin"}',
      '{"code":"twin-b","name":"Twin"}',
      'k-9',
    );
    expect(answer).toContain('HTTP/1.1 201 Created');
    expect(answer).toContain('/problems/idempotency-key-reused');
  });

  it('leaving makes room again, and another caller’s key is another', () => {
    const inFlight = new InFlight();
    const print = fingerprintOf('POST', address, {});
    const leave = inFlight.enter(1, 'k', print);
    inFlight.enter(2, 'k', print);
    expect(() => inFlight.enter(1, 'k', print)).toThrow(Problem);
    leave();
    expect(() => inFlight.enter(1, 'k', print)).not.toThrow();
  });
});

describe('a token', () => {
  it('is answered once, with null after that, and stands in no file', async () => {
    const body = { name: 'once only', roles: ['read'] };
    const sent = posting('admin', '/v1/keys', body, withKey('k-10'));
    const first = await exchange(plant, sent);
    const token = first.body.token as string;
    expect(token).toMatch(/^skeg_/);
    const second = await exchange(plant, sent);
    expect(second.body).toEqual({ key: first.body.key, token: null });
    // The checkpointer's own pass may be under way, and is waited for.
    await expect.poll(() => plant.service.store.checkpoint()).toBe(true);
    const secret = secretOf(token);
    for (const file of readdirSync(plant.folder)) {
      const bytes = readFileSync(join(plant.folder, file));
      expect([file, bytes.includes(secret), bytes.includes(token)]).toEqual([file, false, false]);
      if (file === 'skeg.db') expect(bytes.includes('once only')).toBe(true);
    }
  });
});

describe('stored answers', () => {
  afterEach(() => {
    vi.useRealTimers();
  });

  it('outlive a restart on the same file', async () => {
    const own = await TestPlant.start();
    const body = { code: 'kept', name: 'Kept' };
    const sent = posting('configuration', address, body, withKey('k-11'));
    const bad = { number: 'P', revision: 'A', name: 'P', tracking: 'serial', class: 'none' };
    const refusedPart = posting('configuration', '/v1/parts', bad, withKey('k-12'));
    const before = [await exchange(own, sent), await exchange(own, refusedPart)];
    await own.service.stop();
    const again = await TestPlant.start(own.folder);
    again.tokens.set('configuration', own.tokens.get('configuration') ?? '');
    const after = [await exchange(again, sent), await exchange(again, refusedPart)];
    expect(after.map((one) => [one.status, one.text])).toEqual(
      before.map((one) => [one.status, one.text]),
    );
    expect(after.map((one) => one.headers['idempotency-replayed'])).toEqual(['true', 'true']);
    expect(again.eventCount()).toBe(1);
    await again.stop();
  });

  it('are forgotten by age, by the service itself, and the key is then new', async () => {
    vi.useFakeTimers({ toFake: ['setInterval', 'clearInterval', 'performance'] });
    const own = await TestPlant.start();
    const body = { code: 'aged', name: 'Aged' };
    const sent = posting('configuration', address, body, withKey('k-13'));
    await exchange(own, sent);
    const keep = async () => {
      // A clock that was set is not believed for an hour; here it was set by days.
      for (let minutes = 0; minutes <= 60; minutes += 1) {
        vi.advanceTimersByTime(60_000);
        // The sweep is a command of its own: what is asked after it is carried out after it.
        await own.service.store.command(() => {});
      }
      return (await exchange(own, sent)).headers['idempotency-replayed'];
    };
    own.wait(KEEP_ANSWERS_MS);
    expect(await keep()).toBe('true');
    own.wait(1);
    expect(await keep()).toBeUndefined();
    await own.stop();
  });
});
