import { en } from './en/en.js';

/** What a language has to say; English sets the form. */
export type Words = typeof en;
export type ScreenName = keyof Words['screens'];

const languages: Readonly<Record<string, Words>> = { en };

/** The words of a language; English where there are none of it. Used here and in the browser. */
export function wordsOf(language: string): Words {
  return languages[language] ?? en;
}
