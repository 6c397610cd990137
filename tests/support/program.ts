import { type ChildProcess, spawn } from 'node:child_process';
import { packageFile } from '../../src/package-root.js';

const entry = packageFile('dist', 'src', 'main.js');

/** The built program in a process of its own. */
export class Program {
  output = '';
  readonly ended: Promise<{ code: number | null; signal: string | null }>;

  private constructor(readonly child: ChildProcess) {
    const note = (part: Buffer) => {
      this.output += part;
    };
    child.stdout?.on('data', note);
    child.stderr?.on('data', note);
    this.ended = new Promise((resolve) => {
      child.on('close', (code, signal) => resolve({ code, signal }));
    });
  }

  /** @param within a command that runs the program, with its own arguments, where it is not run bare */
  static start(args: string[], env: Record<string, string> = {}, within: string[] = []): Program {
    const [command = process.execPath, ...rest] = [...within, process.execPath, entry, ...args];
    return new Program(spawn(command, rest, { env: { PATH: process.env.PATH ?? '', ...env } }));
  }

  /** The address it says that it listens on. */
  async address(): Promise<string> {
    const over = this.ended.then(() => true);
    for (;;) {
      const found = /listens on (http:\/\/\S+)/.exec(this.output)?.[1];
      if (found) return found;
      const pause = new Promise<false>((resolve) => setTimeout(() => resolve(false), 10));
      if (await Promise.race([over, pause])) throw new Error(`it ended: ${this.output}`);
    }
  }

  /** The key that it prints of a new database. */
  get key(): string | undefined {
    return /skeg_1_[\w-]{43}/.exec(this.output)?.[0];
  }

  async kill(): Promise<void> {
    this.child.kill('SIGKILL');
    await this.ended;
  }
}
