import { parentPort, workerData } from 'node:worker_threads';
import BetterSqlite3 from 'better-sqlite3';
import { stepBack } from './step-back.js';

const { path, journalSizeLimitBytes, everyMs } = workerData as {
  path: string;
  journalSizeLimitBytes: number;
  everyMs: number;
};
stepBack();
const db = new BetterSqlite3(path, { fileMustExist: true, timeout: 0 });
db.pragma('synchronous = NORMAL');
db.pragma('wal_autocheckpoint = 0');
db.pragma(`journal_size_limit = ${journalSizeLimitBytes}`);

function pass(): void {
  try {
    db.pragma('wal_checkpoint(PASSIVE)');
  } catch {
    // A full or failing disk: the log keeps everything, its size is a metric, the next pass tries again.
  }
}
const timer = setInterval(pass, everyMs);

parentPort?.on('message', () => {
  clearInterval(timer);
  db.close();
  parentPort?.close();
});
