import { Agent, request } from 'node:http';

/** What a client got: the status, the body's text, and whether it is one given before. */
export interface Answer {
  status: number;
  body: string;
  replayed: boolean;
}

/** A command as a client remembers it, from before it was sent until the end of the test. */
export interface Command {
  /** Also its Idempotency-Key, and the words or name by which its rows are found. */
  key: string;
  token: string;
  path: string;
  body: object;
  /** SQL that counts what it leaves in the tables when it is carried out, with its parameters. */
  leaves: readonly [sql: string, ...parameters: unknown[]];
  /** Rows that it leaves where it is refused. */
  leavesRefused: number;
  /** In which life of the service it was sent. */
  life: number;
  /** What came back; nothing when the service was killed before it answered. */
  answer?: Answer;
}

/** How many rows a command must have left, by what it was answered. */
export function rowsOf(command: Command, { status }: Pick<Answer, 'status'>): number {
  return status < 300 ? 1 : command.leavesRefused;
}

/** More than there are clients: none of them waits for another. */
const SOCKETS = 16;

/** Connections to one life of the service. */
export class Connections {
  readonly #agent = new Agent({ keepAlive: true, maxSockets: SOCKETS });

  constructor(private readonly address: string) {}

  /** Sends a command; undefined when its answer did not come whole. */
  send({ key, token, path, body }: Command): Promise<Answer | undefined> {
    const text = JSON.stringify(body);
    return new Promise((resolve) => {
      const broken = () => resolve(undefined);
      const sent = request(
        new URL(path, this.address),
        {
          method: 'POST',
          agent: this.#agent,
          headers: {
            authorization: `Bearer ${token}`,
            'content-type': 'application/json',
            'content-length': Buffer.byteLength(text),
            'idempotency-key': key,
          },
        },
        (answer) => {
          const parts: Buffer[] = [];
          answer.on('data', (part: Buffer) => parts.push(part));
          answer.on('error', broken);
          answer.on('close', broken);
          answer.on('end', () => {
            const whole = Buffer.concat(parts).toString('utf8');
            const replayed = answer.headers['idempotency-replayed'] === 'true';
            resolve({ status: answer.statusCode ?? 0, body: whole, replayed });
          });
        },
      );
      sent.on('error', broken);
      sent.end(text);
    });
  }

  close(): void {
    this.#agent.destroy();
  }
}
