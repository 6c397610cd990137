import { randomUUID } from 'node:crypto';
import express, { type Express, type RequestHandler } from 'express';
import { rateLimit } from 'express-rate-limit';
import helmet, { type HelmetOptions } from 'helmet';
import type { Logger } from 'pino';
import { joinContainments } from './containment/actions.js';
import { documentText, makeDocument } from './http/document.js';
import { logRequests } from './http/log.js';
import { refuseOtherMethods } from './http/methods.js';
import { type Metrics, timeRequests } from './http/metrics.js';
import { authentication, mountRoutes, type Service } from './http/mount.js';
import { problemPages } from './http/problem-pages.js';
import { problemOf, sendProblem } from './http/problem-response.js';
import { makePages, type Pages } from './pages/mount.js';
import { Problem } from './problems.js';
import { routes } from './routes.js';

/** Failed authentications of one address in a minute; one more is turned away. */
export const FAILED_ATTEMPTS_A_MINUTE = 30;

export interface AppParts extends Omit<Service, 'joinContainments'> {
  log: Logger;
  metrics: Metrics;
  /** False once the service shuts down, and while it cannot write. */
  ready: () => boolean;
  /** Aborted when the service begins to end: answers that would go on end then. */
  closing?: AbortSignal;
  /** How many proxies in front are trusted to say the caller's address. */
  trustedProxies: number;
}

/** The whole application on a store, a clock and settings; listens to nothing by itself. */
export function makeApp(parts: AppParts): Express {
  const app = express();
  app.disable('etag');
  app.disable('x-powered-by');
  app.set('query parser', 'simple');
  app.set('trust proxy', parts.trustedProxies);
  app.set('case sensitive routing', true);
  app.use(helmet(responseHeaders));
  app.use(requestId);
  app.use(logRequests(parts.log));
  app.use(timeRequests(parts.metrics));
  const limitFailures = failureLimit();
  const pages = makePages(parts, limitFailures, parts.closing);
  app.use('/v1', limitedAuthentication(parts, limitFailures));
  app.use(mountRoutes(routes, { ...parts, joinContainments }));
  app.use(fixedAddresses({ ...health(parts), ...documents() }));
  app.use(problemPages());
  app.use(pages.router);
  app.use(() => {
    throw new Problem('route-unknown', 'There is nothing at this address; see /openapi.yaml.');
  });
  app.use(errorHandler(pages));
  return app;
}

/** Answers are data: a browser is to load nothing for them, frame them nowhere and guess no type. */
const responseHeaders: HelmetOptions = {
  contentSecurityPolicy: {
    useDefaults: false,
    directives: { defaultSrc: ["'none'"], frameAncestors: ["'none'"] },
  },
  crossOriginOpenerPolicy: false,
  originAgentCluster: false,
  xDnsPrefetchControl: false,
  xDownloadOptions: false,
  xFrameOptions: false,
  xPermittedCrossDomainPolicies: false,
  xPoweredBy: false,
  xXssProtection: false,
};

const requestIdForm = /^[\w.:-]{1,64}$/;

/** Takes the caller's X-Request-Id where it is harmless, else gives one; answers with it. */
const requestId: RequestHandler = (req, res, next) => {
  const given = req.headers['x-request-id'];
  const id = typeof given === 'string' && requestIdForm.test(given) ? given : randomUUID();
  res.locals.requestId = id;
  res.setHeader('X-Request-Id', id);
  next();
};

/** Addresses that need no key and take GET alone. */
function fixedAddresses(handlers: Record<string, RequestHandler>): express.Router {
  const router = express.Router({ caseSensitive: true, strict: true });
  for (const [path, handler] of Object.entries(handlers)) {
    router
      .route(path)
      .get(handler)
      .all(refuseOtherMethods(['GET']));
  }
  return router;
}

function health({ ready, metrics }: AppParts): Record<string, RequestHandler> {
  return {
    '/health/live': (_req, res) => {
      res.json({ live: true });
    },
    '/health/ready': (_req, res) => {
      res.status(ready() ? 200 : 503).json({ ready: ready() });
    },
    '/metrics': async (_req, res) => {
      res.type(metrics.registry.contentType).send(await metrics.registry.metrics());
    },
  };
}

/** The API document; made when it is first asked for, since few processes are asked. */
function documents(): Record<string, RequestHandler> {
  let made: { json: string; yaml: string } | undefined;
  const forms = () => {
    if (!made) {
      const document = makeDocument(routes);
      made = { json: JSON.stringify(document), yaml: documentText(document) };
    }
    return made;
  };
  return {
    '/openapi.json': (_req, res) => {
      res.type('application/json').send(forms().json);
    },
    '/openapi.yaml': (_req, res) => {
      res.type('application/yaml').send(forms().yaml);
    },
  };
}

/** Counts failed authentications of an address, and turns it away past the limit. */
function failureLimit(): RequestHandler {
  return rateLimit({
    windowMs: 60_000,
    limit: FAILED_ATTEMPTS_A_MINUTE,
    standardHeaders: 'draft-8',
    legacyHeaders: false,
    // The headers are not read unless a proxy is trusted: nothing to warn of, least of all
    // past the log, by whatever a caller sends.
    validate: { xForwardedForHeader: false, forwardedHeader: false },
    handler: (_req, _res, next) =>
      next(new Problem('too-many-requests', 'Too many failed attempts; wait a minute.')),
  });
}

/** Authentication whose failures, and only those, are counted against the caller's address. */
function limitedAuthentication(parts: AppParts, limit: RequestHandler): RequestHandler {
  const authenticate = authentication(parts);
  return (req, res, next) => {
    try {
      authenticate(req, res, next);
    } catch (error) {
      // Trouble with the database is not the caller's failure.
      if (!(error instanceof Problem)) throw error;
      limit(req, res, (limited?: unknown) => next(limited ?? error));
    }
  };
}

function errorHandler(pages: Pages): express.ErrorRequestHandler {
  return (error, req, res, next) => {
    const problem = problemOf(error);
    res.locals.problem = problem.slug;
    if (problem.status >= 500) res.locals.error = error;
    if (res.headersSent) {
      next(error);
      return;
    }
    if (!pages.answerError(req, res, problem)) sendProblem(res, problem);
  };
}
