import { mkdirSync } from 'node:fs';
import { pino } from 'pino';
import { databaseFile, readConfig } from './config.js';
import { firstKey, startService } from './service.js';

async function main(): Promise<void> {
  const config = readConfig(process.argv.slice(2), process.env);
  const log = pino({ level: config.logLevel, base: null });
  mkdirSync(config.data, { recursive: true, mode: 0o700 });
  const service = await startService({
    ...config,
    path: databaseFile(config.data),
    clock: Date.now,
    log,
  });
  const token = await firstKey(service.store, Date.now());
  if (token) {
    console.log('A new database. Its first administrator key, shown this once:');
    console.log(`  ${token}`);
  }
  // Whoever reads that it listens may stop it at once, and then it is to stop in order.
  stopOnSignals(service.stop);
  console.log(`Skeg listens on ${service.address}`);
}

/** The first signal stops in order, a second one at once. */
function stopOnSignals(stop: () => Promise<void>): void {
  let asked = false;
  const onSignal = () => {
    if (asked) process.exit(1);
    asked = true;
    stop().then(
      () => process.exit(0),
      (error) => {
        console.error(error);
        process.exit(1);
      },
    );
  };
  process.on('SIGTERM', onSignal);
  process.on('SIGINT', onSignal);
}

main().catch((error: unknown) => {
  console.error(error instanceof Error ? error.message : error);
  process.exit(1);
});
