import { execFile } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { verifyDatabase } from '../../src/journal/verify.js';
import { packageFile } from '../../src/package-root.js';
import { backupDatabase } from '../../src/store/backup.js';
import { TestPlant } from '../support/plant.js';
import { enter, furnish, setMotor } from '../support/scenario.js';

const run = promisify(execFile);

describe('backing up and restoring', () => {
  let plant: TestPlant;
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
  });
  afterAll(() => plant.stop());

  it('copies while the service writes, and the copy verifies', async () => {
    await setMotor(plant);
    const before = plant.eventCount();
    const copy = join(plant.folder, 'copy.db');
    const writing = Promise.all([1, 2, 3, 4, 5].map(() => enter(plant, 'powerhead')));
    await backupDatabase(plant.service.store.path, copy);
    await writing;
    const { events, findings } = verifyDatabase(copy);
    expect(findings).toEqual([]);
    expect(events).toBeGreaterThanOrEqual(before);
    expect(existsSync(`${copy}-wal`)).toBe(false);
    expect(existsSync(`${copy}.unfinished`)).toBe(false);
  });

  it('restores in another folder: the service answers as before and goes on', async () => {
    const { motor, powerhead } = await setMotor(plant);
    const folder = mkdtempSync(join(tmpdir(), 'skeg-restored-'));
    await backupDatabase(plant.service.store.path, join(folder, 'skeg.db'));
    const there = await plant.get('read', `/v1/history?serial=${motor}`);
    const restored = await TestPlant.start(folder);
    try {
      for (const [role, token] of plant.tokens) restored.tokens.set(role, token);
      restored.wait(plant.now - restored.now);
      const here = await restored.get('read', `/v1/history?serial=${motor}`);
      expect(here.body).toEqual(there.body);
      const again = await restored.post('set', '/v1/sets', {
        powerhead,
        lowerUnit: 'none',
        station: 'SET-1',
      });
      expect(again.status).toBe(404);
      expect(verifyDatabase(restored.service.store.path).findings).toEqual([]);
    } finally {
      await restored.stop();
    }
  });

  it('writes over nothing and leaves nothing when the copy does not pass its check', async () => {
    const taken = join(plant.folder, 'taken.db');
    writeFileSync(taken, 'mine');
    await expect(backupDatabase(plant.service.store.path, taken)).rejects.toThrow('exists');
    const refused = join(plant.folder, 'refused.db');
    const check = () => {
      throw new Error('not sound');
    };
    await expect(backupDatabase(plant.service.store.path, refused, check)).rejects.toThrow(
      'not sound',
    );
    expect(existsSync(refused)).toBe(false);
    expect(existsSync(`${refused}.unfinished`)).toBe(false);
  });

  it('does both from the command line beside the running service', async () => {
    const maintain = packageFile('dist', 'src', 'maintain.js');
    const copy = join(plant.folder, 'by-command.db');
    const backup = await run('node', [maintain, 'backup', '--data', plant.folder, '--to', copy]);
    expect(backup.stdout).toContain('Copied to');
    const verify = await run('node', [maintain, 'verify', '--file', copy]);
    expect(verify.stdout).toMatch(
      /^\d+ events chain, and \d+ rows rebuilt from them are equal\.$/m,
    );
    rmSync(copy);
    await expect(run('node', [maintain, 'verify', '--file', copy])).rejects.toMatchObject({
      code: 2,
    });
  });
});
