import type { RequestHandler } from 'express';
import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';
import { outcomeOf, routeOf } from './log.js';

/** Figures that are read when somebody asks. */
export interface Gauges {
  /** Commands waiting for a commit. */
  queue: () => number;
  /** Size of the write-ahead log. */
  logBytes: () => number;
  /** Long questions waiting for a worker thread. */
  questions: () => number;
  /** When the last backup was made; 0 for never. */
  lastBackupMs: () => number;
}

/** What an on-call person watches, in the Prometheus exposition format. */
export function makeMetrics(gauges: Gauges) {
  const registry = new Registry();
  collectDefaultMetrics({ register: registry });
  const gauge = (name: string, help: string, value: () => number) =>
    new Gauge({
      name,
      help,
      registers: [registry],
      collect() {
        this.set(value());
      },
    });
  const duration = new Histogram({
    name: 'skeg_http_request_seconds',
    help: 'Time to answer a request, by route and status.',
    labelNames: ['method', 'route', 'status'],
    buckets: [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.25, 0.5, 1, 5],
    registers: [registry],
  });
  const batch = new Histogram({
    name: 'skeg_commit_commands',
    help: 'Commands that shared one commit.',
    buckets: [1, 2, 4, 8, 16, 32, 64, 128],
    registers: [registry],
  });
  const refused = new Counter({
    name: 'skeg_problems_total',
    help: 'Answers that were a problem, by type.',
    labelNames: ['type'],
    registers: [registry],
  });
  const commits = new Histogram({
    name: 'skeg_commit_seconds',
    help: 'Time of a transaction from its beginning until it was on the disk.',
    buckets: [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.25, 0.5, 1],
    registers: [registry],
  });
  const commands = new Counter({
    name: 'skeg_commands_total',
    help: 'Commands by route and result: done, replayed, refused or failed.',
    labelNames: ['route', 'result'],
    registers: [registry],
  });
  gauge('skeg_waiting_commands', 'Commands waiting for a commit.', gauges.queue);
  gauge('skeg_waiting_questions', 'Long questions waiting for a thread.', gauges.questions);
  gauge('skeg_write_ahead_log_bytes', 'Size of the write-ahead log.', gauges.logBytes);
  gauge(
    'skeg_last_backup_timestamp_seconds',
    'When the last backup was made, in seconds since the epoch; 0 for never.',
    () => gauges.lastBackupMs() / 1000,
  );
  return { registry, duration, batch, commits, commands, refused };
}

export type Metrics = ReturnType<typeof makeMetrics>;

/** Times each request under its route's pattern and counts problems; a serial is never a label. */
export function timeRequests(metrics: Metrics): RequestHandler {
  return (req, res, next) => {
    const start = process.hrtime.bigint();
    res.on('finish', () => {
      const route = routeOf(req);
      const seconds = Number(process.hrtime.bigint() - start) / 1e9;
      metrics.duration.labels(req.method, route, String(res.statusCode)).observe(seconds);
      const { problem, isCommand } = res.locals;
      if (isCommand) metrics.commands.labels(route, outcomeOf(res)).inc();
      if (typeof problem === 'string') metrics.refused.labels(problem).inc();
    });
    next();
  };
}
