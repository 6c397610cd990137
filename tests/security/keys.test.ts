import { randomBytes } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { Agent, request } from 'node:http';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { FAILED_ATTEMPTS_A_MINUTE } from '../../src/app.js';
import { backupDatabase } from '../../src/store/backup.js';
import { TestPlant } from '../support/plant.js';
import { furnish, setMotor } from '../support/scenario.js';
import { exchange, portOf, posting, secretOf } from '../support/wire.js';

let plant: TestPlant;
beforeAll(async () => {
  plant = await TestPlant.start();
  await furnish(plant);
});
afterAll(() => plant.stop());

interface Issued {
  key: { id: number };
  token: string;
}

async function issue(name: string, more: object = {}): Promise<Issued> {
  const issued = await plant.make<Issued>('admin', '/v1/keys', { name, roles: ['set'], ...more });
  plant.tokens.set(name, issued.token);
  return issued;
}

/** A question over a connection that stays open, as a station keeps one. */
function askOver(agent: Agent, as: string): Promise<number> {
  const headers = { Authorization: `Bearer ${plant.tokens.get(as)}` };
  const place = { host: '127.0.0.1', port: portOf(plant), path: '/v1/units?limit=1' };
  return new Promise((resolve, reject) => {
    const sent = request({ ...place, headers, agent }, (answer) => {
      answer.resume().on('end', () => resolve(answer.statusCode ?? 0));
    });
    sent.on('error', reject).end();
  });
}

describe('a key that ends (API2)', () => {
  it('is refused at once, also over a connection on which it was good', async () => {
    const agent = new Agent({ keepAlive: true, maxSockets: 1 });
    const { key } = await issue('revoked');
    expect(await askOver(agent, 'revoked')).toBe(200);
    await plant.make('admin', `/v1/keys/${key.id}/revocation`, {});
    expect(await askOver(agent, 'revoked')).toBe(401);

    await issue('expiring', { expiresAt: new Date(plant.now + 1000).toISOString() });
    expect(await askOver(agent, 'expiring')).toBe(200);
    plant.wait(1000);
    expect(await askOver(agent, 'expiring')).toBe(401);
    agent.destroy();
  });

  it('is refused of every command that follows its revocation, in whatever crowd', async () => {
    const { key } = await issue('leaver');
    const hold = { class: 'powerhead', unit: 'NOBODY', cause: 'quality', reason: 'x' };
    const send = () => exchange(plant, posting('leaver', '/v1/holds', hold));
    const crowd = Array.from({ length: 20 }, send);
    const revocation = exchange(plant, posting('admin', `/v1/keys/${key.id}/revocation`, {}));
    await Promise.all([...crowd, revocation]);
    for (let i = 0; i < 5; i += 1) expect((await send()).status).toBe(401);
  });
});

describe('a token (API2)', () => {
  it('stands nowhere in clear: in no log, answer, event, file of the database or backup', async () => {
    const { token } = await issue('told once');
    const secret = secretOf(token);
    await setMotor(plant);
    const answers: string[] = [];
    const requests = [
      { path: '/v1/keys', as: 'told once' },
      { path: `/v1/units?class=${token}`, as: 'told once' },
      { path: `/v1/${token}`, as: 'told once' },
      { path: '/v1/units', headers: { Authorization: `Bearer ${token}x` } },
      { path: '/v1/units', headers: { Authorization: token } },
      posting('told once', '/v1/holds', '{"'),
      posting('told once', '/v1/holds', {}, { 'Content-Type': 'text/plain' }),
    ];
    // What a caller puts into an address or a body of its own may come back to that caller alone.
    for (const [i, sent] of requests.entries()) {
      const { text } = await exchange(plant, sent);
      if (i !== 1 && i !== 2) answers.push(text);
    }
    answers.push((await exchange(plant, { path: '/v1/keys?limit=1000', as: 'admin' })).text);
    answers.push((await exchange(plant, { path: '/v1/events?limit=1000', as: 'read' })).text);
    answers.push((await exchange(plant, { path: '/metrics' })).text);
    const copy = join(plant.folder, 'copy.db');
    await backupDatabase(plant.service.store.path, copy);
    const files = readdirSync(plant.folder);
    expect(files).toContain('skeg.db-wal');
    const bytes = files.map((name) => readFileSync(join(plant.folder, name)).toString('latin1'));
    for (const text of [...answers, ...plant.logLines, ...bytes]) {
      expect(text.includes(secret)).toBe(false);
    }
    // The check would find it: its name does stand in the file.
    expect(bytes.some((text) => text.includes('told once'))).toBe(true);
  });

  it('that is wrong is refused alike, whether or not there is a key of its number', async () => {
    const { key } = await issue('to be guessed');
    const wrong = randomBytes(32).toString('base64url');
    const texts = new Set<string>();
    for (const id of [key.id, 999_999]) {
      const headers = { Authorization: `Bearer skeg_${id}_${wrong}` };
      const { status, text } = await exchange(plant, { path: '/v1/units', headers });
      texts.add(`${status} ${text}`);
    }
    expect(texts.size).toBe(1);
  });
});

describe('guessing keys (API2, API4)', () => {
  it('ends at the limit, whatever each attempt pretends, while good keys are served', async () => {
    const own = await TestPlant.start();
    const written = vi.spyOn(console, 'error');
    const guess = (i: number) =>
      exchange(own, {
        path: ['/v1/units', '/v1/units?limit=1', '/v1/keys', '/v1/no-such-address'][i % 4] ?? '',
        method: i % 3 === 0 ? 'POST' : 'GET',
        headers: {
          Authorization: `Bearer skeg_1_${randomBytes(32).toString('base64url')}`,
          'X-Forwarded-For': `192.0.2.${i}`,
          'X-Real-IP': `192.0.2.${i}`,
          Forwarded: `for=192.0.2.${i}`,
          'User-Agent': `agent ${i}`,
        },
      });
    const answers = await Promise.all(Array.from({ length: 150 }, (_, i) => guess(i)));
    const of = (status: number) => answers.filter((one) => one.status === status).length;
    expect([of(401), of(429)]).toEqual([FAILED_ATTEMPTS_A_MINUTE, 150 - FAILED_ATTEMPTS_A_MINUTE]);
    expect((await exchange(own, { path: '/v1/units', as: 'read' })).status).toBe(200);
    expect(own.eventCount()).toBe(0);
    // No caller makes the process write past its log.
    expect(written).not.toHaveBeenCalled();
    await own.stop();
  });
});
