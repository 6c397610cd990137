import { readFileSync } from 'node:fs';
import { packageFile } from '../src/package-root.js';

/** A file of this folder as text, wherever the compiled demo stands. */
export function seedText(name: string): string {
  return readFileSync(packageFile('seed', name), 'utf8');
}

export function seedJson<T>(name: string): T {
  return JSON.parse(seedText(name)) as T;
}
