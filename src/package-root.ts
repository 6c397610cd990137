import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** The folder with package.json: one up from src/, two up from dist/src/. */
function findRoot(folder: string): string {
  return existsSync(join(folder, 'package.json')) ? folder : findRoot(dirname(folder));
}

const root = findRoot(dirname(fileURLToPath(import.meta.url)));

/** The path of a file that the package brings, wherever it is started from. */
export function packageFile(...steps: string[]): string {
  return join(root, ...steps);
}
