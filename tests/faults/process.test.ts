import { randomUUID } from 'node:crypto';
import { existsSync, mkdtempSync, rmSync, statSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Program } from '../support/program.js';

let data: string;
let programs: Program[];
beforeEach(() => {
  data = join(mkdtempSync(join(tmpdir(), 'skeg-main-')), 'data');
  programs = [];
});
afterEach(async () => {
  for (const program of programs) await program.kill();
  rmSync(join(data, '..'), { recursive: true, force: true });
});

function run(args: string[] = [], env: Record<string, string> = {}): Program {
  const program = Program.start(['--data', data, '--port', '0', ...args], env);
  programs.push(program);
  return program;
}

/** Issues a key of a name; what the service answered, or undefined where it broke off. */
async function issue(address: string, token: string, name: string): Promise<number | undefined> {
  try {
    const answer = await fetch(`${address}/v1/keys`, {
      method: 'POST',
      headers: {
        Authorization: `Bearer ${token}`,
        'Content-Type': 'application/json',
        'Idempotency-Key': randomUUID(),
      },
      body: JSON.stringify({ name, roles: ['read'] }),
    });
    await answer.text();
    return answer.status;
  } catch {
    return undefined;
  }
}

async function keyNames(address: string, token: string): Promise<string[]> {
  const answer = await fetch(`${address}/v1/keys?limit=1000`, {
    headers: { Authorization: `Bearer ${token}` },
  });
  const { items } = (await answer.json()) as { items: { name: string }[] };
  return items.map((one) => one.name);
}

describe('the program', () => {
  it.each(['SIGTERM', 'SIGINT'] as const)(
    'makes its database, prints its first key once only, and ends in order at %s',
    async (signal) => {
      const first = run();
      const address = await first.address();
      expect(address).toMatch(/^http:\/\/127\.0\.0\.1:\d+$/);
      const key = first.key ?? '';
      expect(first.output.split(key)).toHaveLength(2);
      expect(await keyNames(address, key)).toEqual(['first administrator']);
      // Readable by its owner alone.
      expect(statSync(data).mode & 0o777).toBe(0o700);
      first.child.kill(signal);
      expect(await first.ended).toEqual({ code: 0, signal: null });
      expect(existsSync(join(data, 'skeg.db-wal'))).toBe(false);

      const second = run();
      const again = await second.address();
      expect(second.output).not.toContain('skeg_1_');
      expect(await keyNames(again, key)).toEqual(['first administrator']);
      second.child.kill(signal);
      expect((await second.ended).code).toBe(0);
    },
  );

  it('refuses to start a second time on the same data, and says so', async () => {
    const first = run();
    await first.address();
    const second = run();
    expect((await second.ended).code).toBe(1);
    expect(second.output).toMatch(/another Skeg already runs on .+: stop it first/);
    expect(second.output).not.toMatch(/\n\s+at /);
    expect(await keyNames(await first.address(), first.key ?? '')).toHaveLength(1);
  });

  it('keeps everything that it answered when it is killed amid writing', async () => {
    const first = run();
    const address = await first.address();
    const key = first.key ?? '';
    const answered: string[] = [];
    const callers = Array.from({ length: 8 }, async (_, caller) => {
      for (let i = 0; ; i += 1) {
        const name = `caller ${caller} key ${i}`;
        const status = await issue(address, key, name);
        if (status !== 201) return;
        answered.push(name);
        if (answered.length === 60) first.child.kill('SIGKILL');
      }
    });
    await Promise.all(callers);
    expect((await first.ended).signal).toBe('SIGKILL');
    expect(answered.length).toBeGreaterThanOrEqual(60);

    const second = run();
    const kept = await keyNames(await second.address(), key);
    expect(answered.filter((name) => !kept.includes(name))).toEqual([]);
    // The first key is one of them; each of the eight may have had one under way unanswered.
    expect(kept.length).toBeLessThanOrEqual(answered.length + 1 + 8);
    expect(await issue(await second.address(), key, 'after the crash')).toBe(201);
  });

  it('refuses a port that is taken, and lets go of the data', async () => {
    const taken = createServer();
    await new Promise<void>((resolve) => taken.listen(0, '127.0.0.1', resolve));
    const { port } = taken.address() as { port: number };
    const program = run(['--port', String(port)]);
    expect((await program.ended).code).toBe(1);
    expect(program.output).toContain('EADDRINUSE');
    expect(program.output).not.toContain('skeg_1_');
    expect(existsSync(join(data, 'skeg.db-wal'))).toBe(false);
    await new Promise((resolve) => taken.close(resolve));
    const next = run(['--port', String(port)]);
    await next.address();
    expect(next.key).toMatch(/^skeg_1_/);
  });

  it('refuses a bad setting by its name, before it touches anything', async () => {
    const program = run(['--port', '70000'], { SKEG_TIME_ZONE: 'Atlantis' });
    expect((await program.ended).code).toBe(1);
    expect(program.output).toContain('port: ');
    expect(program.output).toContain('timeZone: is not an IANA time zone');
    expect(existsSync(data)).toBe(false);
  });

  it('refuses an option that it does not know', async () => {
    const program = run(['--prot', '1']);
    expect((await program.ended).code).toBe(1);
    expect(program.output).toContain("'--prot'");
  });
});
