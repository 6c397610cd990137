import { existsSync } from 'node:fs';
import { connect, type Socket } from 'node:net';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { openReader } from '../../src/store/open.js';
import { TestPlant } from '../support/plant.js';
import { exchange, portOf } from '../support/wire.js';

/** A connection of its own that stays open, and everything that came over it. */
class Caller {
  text = '';
  readonly closed: Promise<void>;

  private constructor(readonly socket: Socket) {
    socket.setEncoding('utf8');
    socket.on('data', (part: string) => {
      this.text += part;
    });
    this.closed = new Promise((resolve) => socket.on('close', () => resolve()));
  }

  static async to(plant: TestPlant): Promise<Caller> {
    const socket = connect(portOf(plant), '127.0.0.1');
    await new Promise<void>((resolve) => socket.on('connect', () => resolve()));
    return new Caller(socket);
  }

  async waitFor(text: string): Promise<void> {
    while (!this.text.includes(text)) await new Promise((resolve) => setTimeout(resolve, 2));
  }
}

function commandText(plant: TestPlant, code: string): { head: string; body: string } {
  const body = JSON.stringify({ code, name: 'Class' });
  const head =
    `POST /v1/part-classes HTTP/1.1\r\nHost: x\r\nIdempotency-Key: ${code}\r\n` +
    `Authorization: Bearer ${plant.tokens.get('configuration')}\r\n` +
    `Content-Type: application/json\r\nContent-Length: ${body.length}\r\n\r\n`;
  return { head, body };
}

/** Whether a class is in the file, as a connection of its own sees it after the end. */
function hasClass(plant: TestPlant, code: string): boolean {
  const db = openReader(join(plant.folder, 'skeg.db'));
  const found = db.prepare('SELECT 1 FROM part_classes WHERE code = ?').get(code);
  db.close();
  return found !== undefined;
}

describe('stopping the service', () => {
  it('lets a write under way finish, closes parked connections and leaves no log', async () => {
    const plant = await TestPlant.start();
    const parked = await Caller.to(plant);
    parked.socket.write('GET /health/live HTTP/1.1\r\nHost: x\r\n\r\n');
    await parked.waitFor('{"live":true}');
    const busy = await Caller.to(plant);
    const { head, body } = commandText(plant, 'late');
    busy.socket.write(head + body.slice(0, 5));
    // A question in a worker, whose read-only connection must be closed before the writer's.
    const loops = await exchange(plant, { path: '/v1/yield/rework-loops', as: 'read' });
    expect(loops.status).toBe(200);

    const begun = performance.now();
    const stopping = plant.service.stop();
    await parked.closed;
    expect(busy.text).toBe('');
    busy.socket.write(body.slice(5));
    await stopping;
    await busy.closed;

    // Nobody had to be cut off, which happens after ten seconds.
    expect(performance.now() - begun).toBeLessThan(9000);
    expect(busy.text).toContain('HTTP/1.1 201 Created');
    expect(existsSync(join(plant.folder, 'skeg.db-wal'))).toBe(false);
    expect(hasClass(plant, 'late')).toBe(true);
    await plant.stop();
  });

  it('takes no new connection, tells those that are open that it is not ready', async () => {
    const plant = await TestPlant.start();
    const port = portOf(plant);
    const open = await Caller.to(plant);
    open.socket.write('GET /health/ready HTTP/1.1\r\nHost: x\r\n');
    await new Promise((resolve) => setTimeout(resolve, 20));
    const stopping = plant.service.stop();
    const refused = new Promise<string>((resolve) => {
      const late = connect(port, '127.0.0.1');
      late.on('error', (error: Error & { code?: string }) => resolve(error.code ?? ''));
      late.on('close', () => resolve('closed'));
    });
    expect(['ECONNREFUSED', 'ECONNRESET', 'closed']).toContain(await refused);
    open.socket.write('\r\n');
    await open.waitFor('{"ready":false}');
    expect(open.text).toContain('HTTP/1.1 503');
    await stopping;
    await plant.stop();
  });

  it('twice is once', async () => {
    const plant = await TestPlant.start();
    const [one, two] = [plant.service.stop(), plant.service.stop()];
    expect(one).toBe(two);
    await one;
    expect(plant.service.stop()).toBe(one);
    await plant.stop();
  });

  it('lets another start on the same file at once, with everything there', async () => {
    const plant = await TestPlant.start();
    await plant.make('configuration', '/v1/part-classes', { code: 'kept', name: 'Kept' });
    await expect(TestPlant.start(plant.folder)).rejects.toThrow('another Skeg already runs on');
    await plant.service.stop();
    const again = await TestPlant.start(plant.folder);
    again.tokens.set('read', plant.tokens.get('read') ?? '');
    const classes = await again.get('read', '/v1/part-classes');
    expect((classes.body.items as { code: string }[]).map((one) => one.code)).toContain('kept');
    await again.stop();
  });
});
