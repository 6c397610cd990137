import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { TestPlant } from '../support/plant.js';
import { furnish, runMotor, setMotor } from '../support/scenario.js';
import { signIn } from '../support/session.js';
import { exchange } from '../support/wire.js';

describe('the page of the runs behind a mark', () => {
  let plant: TestPlant;
  let cookie: { Cookie: string };
  beforeAll(async () => {
    plant = await TestPlant.start();
    await furnish(plant);
    for (let i = 0; i < 3; i += 1) await runMotor(plant, (await setMotor(plant)).motor);
    cookie = await signIn(plant, 'read');
  });
  afterAll(() => plant.stop());

  const numbers = (from: number, until: number) =>
    Array.from({ length: until - from + 1 }, (_, i) => from + i).join(',');
  const open = async (query: string) => {
    const headers = { Accept: 'text/html', ...cookie };
    return exchange(plant, { path: `/quality/runs?${query}`, headers });
  };
  const rows = (text: string) => [...text.matchAll(/class="serial"/g)].length;

  it('lists a few at once, and counts those that are known', async () => {
    const { text } = await open(`run=${numbers(1, 5)}`);
    expect(rows(text)).toBe(3);
    expect(text).toContain('>3 runs<');
    expect(text).not.toContain('next-page');
  });

  it('lists many by the hundred, with the way on and back', async () => {
    const many = `run=${numbers(1, 150)}`;
    const first = await open(many);
    expect(rows(first.text)).toBe(3);
    expect(first.text).toContain('These are number 1 to 100.');
    const [, next = ''] = /href="\/quality\/runs\?([^"]+)" class="action" id="next-page"/.exec(
      first.text,
    ) ?? [''];
    expect(next.replaceAll('&amp;', '&')).toBe(`${many}&behind=100`);
    const second = await open(`${many}&behind=100`);
    expect(second.text).toContain('These are number 101 to 150.');
    expect(second.text).toContain('None of these runs is known.');
    expect(second.text).not.toContain('next-page');
    expect(second.text).toContain(`href="/quality/runs?${many}"`);
  });

  it('takes any place to begin at, also behind the end', async () => {
    expect((await open(`run=${numbers(1, 150)}&behind=9999`)).status).toBe(200);
    expect((await open('run=1&behind=-1')).status).toBe(400);
  });
});
