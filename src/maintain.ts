import { existsSync } from 'node:fs';
import { parseArgs } from 'node:util';
import { databaseFile } from './config.js';
import { verifyDatabase } from './journal/verify.js';
import { backupDatabase } from './store/backup.js';

const usage = `Usage:
  npm run verify -- [--data FOLDER | --file FILE]
      checks the journal's hash chain and rebuilds every table from it
  npm run backup -- --to FILE [--data FOLDER]
      copies the database while the service runs, and verifies the copy`;

/** Prints what a verification found; returns whether all is well. */
function verify(path: string): boolean {
  const { events, lastHash, rows, findings } = verifyDatabase(path);
  for (const { seq, table, detail } of findings) {
    const place = [seq && `event ${seq}`, table && `table ${table}`].filter(Boolean).join(', ');
    console.error(place ? `${place}: ${detail}` : detail);
  }
  if (findings.length > 0) return false;
  console.log(`${events} events chain, and ${rows} rows rebuilt from them are equal.`);
  console.log(`Last hash ${lastHash}: note it elsewhere, and a cut-off end shows too.`);
  return true;
}

async function main(): Promise<number> {
  const { values, positionals } = parseArgs({
    allowPositionals: true,
    options: { data: { type: 'string' }, file: { type: 'string' }, to: { type: 'string' } },
  });
  const path = values.file ?? databaseFile(values.data ?? process.env.SKEG_DATA ?? 'data');
  const [task] = positionals;
  if (task !== 'verify' && !(task === 'backup' && values.to)) {
    console.error(usage);
    return 2;
  }
  if (!existsSync(path)) {
    console.error(`There is no database ${path}.`);
    return 2;
  }
  if (task === 'verify') return verify(path) ? 0 : 1;
  await backupDatabase(path, values.to ?? '', (copy) => {
    if (!verify(copy)) throw new Error('the copy does not verify; it was not kept');
  });
  console.log(`Copied to ${values.to}.`);
  return 0;
}

main().then(
  (code) => {
    process.exitCode = code;
  },
  (error: unknown) => {
    console.error(error instanceof Error ? error.message : error);
    process.exitCode = 1;
  },
);
