import { randomUUID } from 'node:crypto';
import { Agent, request } from 'node:http';
import type { Role } from '../../src/access/schema.js';
import { assertDocumented } from './document-check.js';
import { TestPlant } from './plant.js';
import { portOf } from './wire.js';

export interface LineAnswer {
  status: number;
  headers: Record<string, string>;
  text: string;
  body: Record<string, unknown>;
}

/** A command as one of the callers sent it, and what it was answered with. */
interface Sent {
  caller: Caller;
  path: string;
  text: string;
  key: string;
  answer: LineAnswer;
}

/** Somebody with a key of their own, so that the journal tells whose command came when. */
export interface Caller {
  keyId: number;
  token: string;
}

const CALLERS = 4;
const roles: Role[] = ['set', 'cell', 'repair', 'quality', 'configuration'];
/** Commands that are remembered to be sent again. */
const REMEMBERED = 200;
const PUT_BACK_MS = 10 * 60 * 1000;

/**
 * Several callers on connections that stay open, of a plant whose service is stopped and
 * started again on its file now and then.
 */
export class PlantLine {
  readonly callers: Caller[] = [];
  commands = 0;
  restarts = 0;
  readonly #sent: Sent[] = [];
  #clockIsBehind = false;
  #agent = new Agent({ keepAlive: true });

  private constructor(public plant: TestPlant) {}

  static async start(): Promise<PlantLine> {
    const line = new PlantLine(await TestPlant.start());
    for (let i = 0; i < CALLERS; i += 1) {
      const { key, token } = await line.plant.make<{ key: { id: number }; token: string }>(
        ...(['admin', '/v1/keys', { name: `caller ${i}`, roles }] as const),
      );
      line.callers.push({ keyId: key.id, token });
    }
    return line;
  }

  /** Sends a command under a key of its own and remembers it. */
  async send(caller: Caller, path: string, body: object): Promise<LineAnswer> {
    const sent = { caller, path, text: JSON.stringify(body), key: randomUUID() };
    const answer = await this.#post(sent);
    this.#remember({ ...sent, answer });
    return answer;
  }

  /** Sends a command twice at once under one key: one of them is carried out, the other is told so. */
  async sendTwice(caller: Caller, path: string, body: object): Promise<LineAnswer> {
    const sent = { caller, path, text: JSON.stringify(body), key: randomUUID() };
    const [one, other] = await Promise.all([this.#post(sent), this.#post(sent)]);
    const [answer, twin] = isEcho(one) ? [other, one] : [one, other];
    if (isEcho(answer) || !isEcho(twin)) throw new Error(`twins: ${one.text}, ${other.text}`);
    if (isReplayed(twin)) assertSame(answer, twin);
    this.#remember({ ...sent, answer });
    return answer;
  }

  /** Sends again one of the commands sent before, which must be answered as it was then. */
  async repeat(pick: number): Promise<void> {
    const sent = this.#sent[pick % this.#sent.length];
    if (!sent) return;
    const again = await this.#post(sent);
    if (!isReplayed(again)) throw new Error(`carried out once more: ${sent.path} ${again.text}`);
    assertSame(sent.answer, again);
  }

  /** Puts the clock back by ten minutes, and the next time right again. */
  setClock(): void {
    this.plant.wait(this.#clockIsBehind ? PUT_BACK_MS : -PUT_BACK_MS);
    this.#clockIsBehind = !this.#clockIsBehind;
  }

  /** Stops the service and starts another on the same file, at the same time of the plant. */
  async restart(): Promise<void> {
    const before = this.plant;
    this.#agent.destroy();
    await before.service.stop();
    this.plant = await TestPlant.start(before.folder);
    this.plant.wait(before.now - this.plant.now);
    for (const [role, token] of before.tokens) this.plant.tokens.set(role, token);
    this.#agent = new Agent({ keepAlive: true });
    this.restarts += 1;
  }

  async stop(): Promise<void> {
    this.#agent.destroy();
    await this.plant.stop();
  }

  #remember(sent: Sent): void {
    this.commands += 1;
    this.#sent.push(sent);
    if (this.#sent.length > REMEMBERED) this.#sent.shift();
  }

  #post({ caller, path, text, key }: Omit<Sent, 'answer'>): Promise<LineAnswer> {
    const headers = {
      Authorization: `Bearer ${caller.token}`,
      'Content-Type': 'application/json',
      'Content-Length': Buffer.byteLength(text),
      'Idempotency-Key': key,
    };
    const to = { host: '127.0.0.1', port: portOf(this.plant), method: 'POST', path };
    return new Promise((resolve, reject) => {
      const outgoing = request({ ...to, headers, agent: this.#agent }, (incoming) => {
        const parts: Buffer[] = [];
        incoming.on('data', (part: Buffer) => parts.push(part));
        incoming.on('end', () => {
          const told = Buffer.concat(parts).toString('utf8');
          const answer = {
            status: incoming.statusCode ?? 0,
            headers: incoming.headers as Record<string, string>,
            text: told,
            body: JSON.parse(told),
          };
          try {
            assertDocumented('post', path, answer);
            resolve(answer);
          } catch (error) {
            reject(error);
          }
        });
      });
      outgoing.on('error', reject);
      outgoing.end(text);
    });
  }
}

const isReplayed = ({ headers }: LineAnswer) => headers['idempotency-replayed'] === 'true';
/** Whether an answer is that of the second of two twins. */
const isEcho = (answer: LineAnswer) =>
  isReplayed(answer) || answer.body.type === '/problems/idempotency-in-flight';

function assertSame(first: LineAnswer, again: LineAnswer): void {
  if (first.status === again.status && first.text === again.text) return;
  throw new Error(`answered otherwise: ${first.text}, then ${again.text}`);
}
