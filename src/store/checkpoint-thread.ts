import { parentPort, workerData } from 'node:worker_threads';
import BetterSqlite3 from 'better-sqlite3';
import { stepBack } from './step-back.js';

const { path, journalSizeLimitBytes } = workerData as {
  path: string;
  journalSizeLimitBytes: number;
};
stepBack();
const db = new BetterSqlite3(path, { fileMustExist: true, timeout: 0 });
// One sync at the end, which the log's own safety asks for; never one for each page.
db.pragma('synchronous = NORMAL');
db.pragma('wal_autocheckpoint = 0');
db.pragma(`journal_size_limit = ${journalSizeLimitBytes}`);

parentPort?.on('message', (message: 'pass' | 'close') => {
  if (message === 'close') {
    db.close();
    parentPort?.close();
    return;
  }
  db.pragma('wal_checkpoint(PASSIVE)');
  parentPort?.postMessage('passed');
});
