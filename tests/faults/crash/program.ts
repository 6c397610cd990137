import { type ChildProcess, spawn } from 'node:child_process';
import { packageFile } from '../../../src/package-root.js';

const entry = packageFile('dist', 'src', 'main.js');

/** The built service in a process of its own, on a data folder, to be killed. */
export class Program {
  /** All that it printed. */
  output = '';
  /** When the process is gone and the system has taken back its locks. */
  readonly ended: Promise<void>;
  readonly #child: ChildProcess;
  readonly #address: Promise<string>;

  constructor(data: string) {
    this.#child = spawn(process.execPath, [entry, '--data', data, '--port', '0'], {
      env: { PATH: process.env.PATH ?? '', SKEG_LOG_LEVEL: 'error', NODE_ENV: 'production' },
    });
    this.ended = new Promise((resolve) => this.#child.once('close', () => resolve()));
    this.#address = new Promise((resolve, reject) => {
      const note = (part: Buffer) => {
        this.output += part;
        const found = /listens on (http:\/\/\S+)/.exec(this.output)?.[1];
        if (found) resolve(found);
      };
      this.#child.stdout?.on('data', note);
      this.#child.stderr?.on('data', note);
      this.ended.then(() => reject(new Error(`the service ended: ${this.output}`)));
    });
    // A program that is killed while it starts has nobody who asks for its address.
    this.#address.catch(() => {});
  }

  /** Where it listens. @throws Error with what it printed, when it ends before */
  address(): Promise<string> {
    return this.#address;
  }

  /** Kills it as a power switch would, with no chance to tidy up, and waits until it is gone. */
  async kill(): Promise<void> {
    this.#child.kill('SIGKILL');
    await this.ended;
  }

  /** Asks it to stop in order. */
  async stop(): Promise<void> {
    this.#child.kill('SIGTERM');
    await this.ended;
  }
}
