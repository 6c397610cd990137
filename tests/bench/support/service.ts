import { type ChildProcess, spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { createInterface } from 'node:readline';
import { packageFile } from '../../../src/package-root.js';

/** The service as a process of its own, as `npm start` runs it. */
export interface ServiceProcess {
  address: string;
  child: ChildProcess;
  stop(): Promise<void>;
}

const START_MS = 120_000;
const STOP_MS = 30_000;

export interface ProcessOptions {
  /** Flags of Node, before the program. */
  flags?: readonly string[];
  /** Adds a CPU profile to this folder. */
  profile?: string | undefined;
}

/** Starts the real program on a data folder, as `npm start` does, and waits until it listens. */
export function startServiceOn(data: string, { flags = [], ...others }: ProcessOptions = {}) {
  const program = [packageFile('dist', 'src', 'main.js'), '--data', data, '--port', '0'];
  const options = { ...others, flags: [...flagsOfStart(), ...flags] };
  return startProgram(program, /listens on (\S+)/, options);
}

/** What `npm start` gives Node before the program. */
function flagsOfStart(): string[] {
  const { scripts } = JSON.parse(readFileSync(packageFile('package.json'), 'utf8'));
  const [, started = ''] = String(scripts.start).split(' && node ');
  return started.split(' ').filter((word) => word.startsWith('--'));
}

/**
 * Starts a program that prints its address, and waits for that line.
 * @throws Error when it ends before, or takes longer than two minutes
 */
export async function startProgram(
  program: readonly string[],
  addressLine: RegExp,
  { flags = [], profile }: ProcessOptions = {},
): Promise<ServiceProcess> {
  const profiling = profile ? ['--cpu-prof', `--cpu-prof-dir=${profile}`] : [];
  const child = spawn(process.execPath, [...flags, ...profiling, ...program], {
    stdio: ['ignore', 'pipe', 'inherit', 'ipc'],
    env: { ...process.env, SKEG_LOG_LEVEL: 'error', NODE_ENV: 'production' },
  });
  const ended = new Promise<void>((resolve) => child.once('exit', () => resolve()));
  const address = await addressOf(child, addressLine);
  return { address, child, stop: () => stopChild(child, ended) };
}

function addressOf(child: ChildProcess, addressLine: RegExp): Promise<string> {
  return new Promise((resolve, reject) => {
    const fail = (why: string) => {
      child.kill('SIGKILL');
      reject(new Error(`the service ${why}`));
    };
    const timer = setTimeout(() => fail('did not listen in time'), START_MS);
    const onExit = () => fail('ended before it listened');
    child.once('exit', onExit);
    createInterface({ input: child.stdout as NodeJS.ReadableStream }).on('line', (line) => {
      const found = addressLine.exec(line)?.[1];
      if (!found) return;
      clearTimeout(timer);
      child.off('exit', onExit);
      resolve(found);
    });
  });
}

async function stopChild(child: ChildProcess, ended: Promise<void>): Promise<void> {
  const timer = setTimeout(() => child.kill('SIGKILL'), STOP_MS);
  child.kill('SIGTERM');
  await ended;
  clearTimeout(timer);
}
