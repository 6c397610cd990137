import type { Request, RequestHandler, Response } from 'express';
import type { Logger } from 'pino';
import type { Actor } from '../command.js';

/** What an answer came to, in logs and metrics alike. */
export type Outcome = 'done' | 'replayed' | 'refused' | 'failed';

export function outcomeOf(res: Response): Outcome {
  if (res.statusCode >= 500) return 'failed';
  if (res.hasHeader('Idempotency-Replayed')) return 'replayed';
  return res.statusCode >= 400 ? 'refused' : 'done';
}

/** A route's pattern, so that no serial and no query is told; `unmatched` where no route is known. */
export function routeOf(req: Request): string {
  return req.route ? `${req.baseUrl}${req.route.path}` : 'unmatched';
}

/** Asked so often by machines that a line of each would hide the others. */
const quiet = ['/health/live', '/health/ready', '/metrics'];

/**
 * Writes one line for each request once it is answered or its caller has gone, and the error
 * in that same line where it failed. A key is told by its id, since a name is personal.
 */
export function logRequests(log: Logger): RequestHandler {
  return (req, res, next) => {
    const begun = performance.now();
    res.on('close', () => {
      const outcome = res.writableFinished ? outcomeOf(res) : 'broken-off';
      const route = routeOf(req);
      const { requestId, actor, problem, error } = res.locals as {
        requestId: string;
        actor?: Actor;
        problem?: string;
        error?: unknown;
      };
      const line = {
        requestId,
        method: req.method,
        route,
        status: res.statusCode,
        outcome,
        ms: Math.round(performance.now() - begun),
        ...(actor ? { keyId: actor.keyId } : {}),
        ...(problem === undefined ? {} : { problem }),
      };
      if (error !== undefined) log.error({ ...line, err: error }, 'request failed');
      else if (quiet.includes(route)) log.debug(line, 'request');
      else log.info(line, 'request');
    });
    next();
  };
}
