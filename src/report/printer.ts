import { execFile } from 'node:child_process';
import { constants } from 'node:fs';
import { access, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { delimiter, join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { promisify } from 'node:util';
import { OverloadedError } from '../store/errors.js';
import { DeadlineError } from '../store/workers.js';

/** Sheets that may wait for the browser, the one in it counted; one more is turned away. */
export const QUEUE_LIMIT = 5;
/** A browser that has not printed by then is ended. */
export const PRINT_TIMEOUT_MS = 20_000;

const USUAL_NAMES = ['chromium', 'chromium-browser'];
const run = promisify(execFile);

/**
 * The browser that prints: the program that SKEG_BROWSER names, by path or by name, else
 * one of the usual names on PATH. Undefined where there is none.
 */
export async function findBrowser(env: NodeJS.ProcessEnv): Promise<string | undefined> {
  const names = env.SKEG_BROWSER === undefined ? USUAL_NAMES : [env.SKEG_BROWSER];
  const folders = (env.PATH ?? '').split(delimiter).filter((folder) => folder !== '');
  const places = names.flatMap((name) =>
    name.includes('/') ? [name] : folders.map((folder) => join(folder, name)),
  );
  for (const place of places) {
    if (await isProgram(place)) return place;
  }
  return undefined;
}

function isProgram(place: string): Promise<boolean> {
  return access(place, constants.X_OK).then(
    () => true,
    () => false,
  );
}

/** Prints documents to PDF, one at a time: a browser takes the memory of a small plant. */
export class Printer {
  #waiting = 0;
  #before: Promise<unknown> = Promise.resolve();

  /**
   * A document as PDF.
   * @throws OverloadedError when too many wait; DeadlineError when the browser takes too
   * long; Error when it fails
   */
  async print(browser: string, document: string): Promise<Buffer> {
    if (this.#waiting >= QUEUE_LIMIT) throw new OverloadedError('too many reports wait');
    this.#waiting += 1;
    const printed = this.#before.then(() => printOnce(browser, document));
    this.#before = printed.catch(() => undefined);
    try {
      return await printed;
    } finally {
      this.#waiting -= 1;
    }
  }
}

/** In a folder that only this user may read, and that is gone afterwards. */
async function printOnce(browser: string, document: string): Promise<Buffer> {
  const folder = await mkdtemp(join(tmpdir(), 'skeg-report-'));
  try {
    const source = join(folder, 'report.html');
    const target = join(folder, 'report.pdf');
    await writeFile(source, document, { mode: 0o600 });
    await run(browser, argumentsFor(folder, source, target), {
      timeout: PRINT_TIMEOUT_MS,
      killSignal: 'SIGKILL',
      cwd: folder,
      env: environmentFor(folder),
    });
    return await readFile(target);
  } catch (error) {
    if ((error as { killed?: boolean }).killed) {
      throw new DeadlineError(`printing took longer than ${PRINT_TIMEOUT_MS / 1000} s`);
    }
    throw error;
  } finally {
    // Helpers of a browser that was ended may still write for a moment.
    await rm(folder, { recursive: true, force: true, maxRetries: 5, retryDelay: 100 });
  }
}

function argumentsFor(folder: string, source: string, target: string): string[] {
  return [
    '--headless',
    ...(process.getuid?.() === 0 ? ['--no-sandbox'] : []),
    '--disable-gpu',
    '--disable-dev-shm-usage',
    '--no-first-run',
    '--no-default-browser-check',
    '--disable-background-networking',
    '--disable-component-update',
    '--disable-extensions',
    '--disable-sync',
    '--host-resolver-rules=MAP * ~NOTFOUND',
    `--user-data-dir=${join(folder, 'profile')}`,
    '--no-pdf-header-footer',
    `--print-to-pdf=${target}`,
    pathToFileURL(source).href,
  ];
}

/** Nothing of the service's own environment but where programs are. */
function environmentFor(folder: string): NodeJS.ProcessEnv {
  return { PATH: process.env.PATH, HOME: folder, TMPDIR: folder, LANG: 'C.UTF-8' };
}
