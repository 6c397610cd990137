import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { IANAZone } from 'luxon';
import { z } from 'zod';
import type { Settings } from './settings.js';

export interface Config {
  /** The folder of the database file. */
  data: string;
  host: string;
  port: number;
  logLevel: string;
  trustedProxies: number;
  settings: Settings;
}

/** A whole number in digits; `z.coerce` would read an empty variable as 0. */
function wholeNumber(least: number, most: number) {
  return z
    .string()
    .regex(/^\d{1,9}$/, 'must be a whole number')
    .transform(Number)
    .pipe(z.int().min(least).max(most));
}

const shape = z.object({
  data: z.string().min(1),
  host: z.string().min(1),
  port: wholeNumber(0, 65_535),
  logLevel: z.enum(['debug', 'info', 'warn', 'error', 'silent']),
  trustedProxies: wholeNumber(0, 10),
  timeZone: z.string().refine((zone) => IANAZone.isValidZone(zone), 'is not an IANA time zone'),
  serialPrefix: z.string().regex(/^[0-9A-Z]{1,10}$/, 'must be 1 to 10 capital letters or digits'),
  serialDigits: wholeNumber(4, 12),
  serialYear: z.enum(['yes', 'no']),
});

/**
 * The configuration from command-line options, else environment variables, else
 * defaults. Frozen.
 * @throws Error that names every setting that is wrong
 */
export function readConfig(args: string[], env: NodeJS.ProcessEnv): Config {
  const { values } = parseArgs({
    args,
    options: { data: { type: 'string' }, host: { type: 'string' }, port: { type: 'string' } },
  });
  const parsed = shape.safeParse({
    data: values.data ?? env.SKEG_DATA ?? 'data',
    host: values.host ?? env.SKEG_HOST ?? '127.0.0.1',
    port: values.port ?? env.SKEG_PORT ?? '8440',
    logLevel: env.SKEG_LOG_LEVEL ?? 'info',
    trustedProxies: env.SKEG_TRUSTED_PROXIES ?? '0',
    timeZone: env.SKEG_TIME_ZONE ?? 'UTC',
    serialPrefix: env.SKEG_SERIAL_PREFIX ?? 'M',
    serialDigits: env.SKEG_SERIAL_DIGITS ?? '6',
    serialYear: env.SKEG_SERIAL_YEAR ?? 'yes',
  });
  if (!parsed.success) {
    const faults = parsed.error.issues.map((one) => `${one.path.join('.')}: ${one.message}`);
    throw new Error(`The configuration is wrong: ${faults.join('; ')}`);
  }
  const { timeZone, serialPrefix, serialDigits, serialYear, ...rest } = parsed.data;
  const serialFormat = Object.freeze({
    prefix: serialPrefix,
    digits: serialDigits,
    withYear: serialYear === 'yes',
  });
  return Object.freeze({ ...rest, settings: Object.freeze({ timeZone, serialFormat }) });
}

/** The database file of a data folder. */
export function databaseFile(data: string): string {
  return join(data, 'skeg.db');
}
