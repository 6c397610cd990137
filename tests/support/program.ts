import { type ChildProcess, spawn } from 'node:child_process';
import { packageFile } from '../../src/package-root.js';

const entry = packageFile('dist', 'src', 'main.js');

/** The built program in a process of its own, to be talked to, stopped or killed. */
export class Program {
  /** All that it printed. */
  output = '';
  /** When the process is gone and the system has taken back its locks. */
  readonly ended: Promise<{ code: number | null; signal: string | null }>;
  readonly #address: Promise<string>;

  private constructor(readonly child: ChildProcess) {
    this.ended = new Promise((resolve) => {
      child.once('close', (code, signal) => resolve({ code, signal }));
    });
    this.#address = new Promise((resolve, reject) => {
      const note = (part: Buffer) => {
        this.output += part;
        const found = /listens on (http:\/\/\S+)/.exec(this.output)?.[1];
        if (found) resolve(found);
      };
      child.stdout?.on('data', note);
      child.stderr?.on('data', note);
      this.ended.then(() => reject(new Error(`the service ended: ${this.output}`)));
    });
    // A program that is killed while it starts has nobody who asks for its address.
    this.#address.catch(() => {});
  }

  /** @param within a command that runs the program, with its own arguments, where it is not run bare */
  static start(args: string[], env: Record<string, string> = {}, within: string[] = []): Program {
    const [command = process.execPath, ...rest] = [...within, process.execPath, entry, ...args];
    return new Program(spawn(command, rest, { env: { PATH: process.env.PATH ?? '', ...env } }));
  }

  /** The service on a data folder, as it is run in earnest. */
  static serve(data: string): Program {
    const env = { SKEG_LOG_LEVEL: 'error', NODE_ENV: 'production' };
    return Program.start(['--data', data, '--port', '0'], env);
  }

  /** Where it listens. @throws Error with what it printed, when it ends before */
  address(): Promise<string> {
    return this.#address;
  }

  /** The key that it prints of a new database. */
  get key(): string | undefined {
    return /skeg_1_[\w-]{43}/.exec(this.output)?.[0];
  }

  /** Kills it as a power switch would, with no chance to tidy up, and waits until it is gone. */
  async kill(): Promise<void> {
    this.child.kill('SIGKILL');
    await this.ended;
  }

  /** Asks it to stop in order. */
  async stop(): Promise<void> {
    this.child.kill('SIGTERM');
    await this.ended;
  }
}
