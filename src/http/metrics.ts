import type { RequestHandler } from 'express';
import { Counter, collectDefaultMetrics, Gauge, Histogram, Registry } from 'prom-client';

/** What an on-call person watches, in the Prometheus exposition format. */
export function makeMetrics(gauges: { queue: () => number; logBytes: () => number }) {
  const registry = new Registry();
  collectDefaultMetrics({ register: registry });
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
  new Gauge({
    name: 'skeg_waiting_commands',
    help: 'Commands waiting for a commit.',
    registers: [registry],
    collect() {
      this.set(gauges.queue());
    },
  });
  new Gauge({
    name: 'skeg_write_ahead_log_bytes',
    help: 'Size of the write-ahead log.',
    registers: [registry],
    collect() {
      this.set(gauges.logBytes());
    },
  });
  return { registry, duration, batch, refused };
}

export type Metrics = ReturnType<typeof makeMetrics>;

/** Times each request under its route's pattern and counts problems; a serial is never a label. */
export function timeRequests(metrics: Metrics): RequestHandler {
  return (req, res, next) => {
    const start = process.hrtime.bigint();
    res.on('finish', () => {
      const route = req.route ? `${req.baseUrl}${req.route.path}` : 'unmatched';
      const seconds = Number(process.hrtime.bigint() - start) / 1e9;
      metrics.duration.labels(req.method, route, String(res.statusCode)).observe(seconds);
      const { problem } = res.locals;
      if (typeof problem === 'string') metrics.refused.labels(problem).inc();
    });
    next();
  };
}
