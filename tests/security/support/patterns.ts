import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { packageFile } from '../../../src/package-root.js';
import { wholeDocument } from '../../fuzz/support/operations.js';

export interface Found {
  /** Where it stands. */
  place: string;
  source: string;
  flags: string;
}

/** Source files of the service, those for browsers included. */
export function sourceFiles(folder = 'src'): { name: string; text: string }[] {
  return readdirSync(packageFile(folder), { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts'))
    .sort()
    .map((name) => ({
      name: join(folder, name),
      text: readFileSync(packageFile(folder, name), 'utf8'),
    }));
}

/** A comment, a text, a template without substitutions, or a regular expression where one may begin. */
const token =
  /\/\/[^\n]*|\/\*[\s\S]*?\*\/|'(?:\\.|[^'\\\n])*'|"(?:\\.|[^"\\\n])*"|(?<=(?:^|[=(,:!&|?{}[;\n>]|\breturn)\s*)\/(?![*/])((?:\\.|\[(?:\\.|[^\]\\\n])*\]|[^/\\\n[])+)\/([dgimsuvy]*)/g;

/** Every regular expression that is written as one in a source text. */
export function patternsOf(name: string, text: string): Found[] {
  return [...text.matchAll(token)]
    .filter(([, source]) => source !== undefined)
    .map(({ 1: source = '', 2: flags = '', index }) => ({
      place: `${name}:${text.slice(0, index).split('\n').length}`,
      source,
      flags: flags.replaceAll(/[gy]/g, ''),
    }));
}

/** Every pattern that the API document promises its callers. */
export function documentedPatterns(): Found[] {
  const found = new Set<string>();
  const collect = (value: unknown): void => {
    if (typeof value !== 'object' || value === null) return;
    for (const [name, one] of Object.entries(value)) {
      if (name === 'pattern' && typeof one === 'string') found.add(one);
      collect(one);
    }
  };
  collect(wholeDocument);
  return [...found].map((source) => ({ place: 'the API document', source, flags: 'u' }));
}
