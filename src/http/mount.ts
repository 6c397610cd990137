import {
  type NextFunction,
  type Request,
  type RequestHandler,
  type Response,
  Router,
} from 'express';
import { z } from 'zod';
import { authenticate } from '../access/actions.js';
import type { KeyRow } from '../access/records.js';
import type { Actor, Command } from '../command.js';
import { recordEvent } from '../journal/record.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import type { Settings } from '../settings.js';
import type { Store } from '../store/store.js';
import type { Clock } from '../time.js';
import { bodyParsers } from './body.js';
import type { Page } from './cursor.js';
import { assertSameRequest, fingerprintOf, InFlight, type StoredAnswer } from './idempotency.js';
import { refuseOtherMethods } from './methods.js';
import { sendJson } from './problem-response.js';
import { mediaWanted, sendCsv, sendPage, sendSheet, sendWritten, wantsCsv } from './respond.js';
import type { Answer, Asking, Route, Sheet, Written } from './route.js';
import { assertFromOwnPage, keyOfSession } from './session.js';
import { parsePart } from './validate.js';

const emptyQuery = z.strictObject({});

/** What every route needs; made once when the application is. */
export interface Service {
  store: Store<Plant>;
  clock: Clock;
  settings: Settings;
  inWorker: <T>(question: string, parameters: unknown) => Promise<T>;
  /** What follows from a command in its own transaction, told in its answer as `contained`. */
  joinContainments: (command: Command, touched: readonly number[]) => object[];
}

/** Express's form of a path with `{parameters}`. */
export function expressPath(path: string): string {
  return path.replaceAll(/\{(\w+)\}/g, ':$1');
}

/**
 * Mounts routes; an address that is known but not for a method is answered with 405.
 * A router would try its seventy addresses one by one, so each collection, the second
 * step of an address, has a router of its own.
 */
export function mountRoutes(routes: readonly Route[], service: Service): RequestHandler {
  const inFlight = new InFlight();
  const routers = new Map(
    [...groupedBy(routes, (route) => collectionOf(route.path))].map(([collection, own]) => [
      collection,
      routerOf(own, service, inFlight),
    ]),
  );
  return (req, res, next) => {
    const router = routers.get(collectionOf(req.path));
    if (router) router(req, res, next);
    else next();
  };
}

/** `runs` of `/v1/runs/7/completion`. */
function collectionOf(path: string): string {
  return path.split('/', 3)[2] ?? '';
}

function groupedBy(
  routes: readonly Route[],
  keyOf: (route: Route) => string,
): ReadonlyMap<string, Route[]> {
  const groups = new Map<string, Route[]>();
  for (const route of routes)
    groups.set(keyOf(route), [...(groups.get(keyOf(route)) ?? []), route]);
  return groups;
}

function routerOf(routes: readonly Route[], service: Service, inFlight: InFlight): Router {
  const router = Router({ caseSensitive: true, strict: true });
  const byPath = groupedBy(routes, (route) => route.path);
  // An address of fixed words goes before one with a parameter in its place.
  const paths = [...byPath.keys()].sort((a, b) => parameters(a) - parameters(b));
  for (const path of paths) {
    const own = byPath.get(path) ?? [];
    const place = router.route(expressPath(path));
    for (const route of own) {
      place[route.method](...handlersOf(route, service, inFlight));
    }
    place.all(refuseOtherMethods(own.map((route) => route.method.toUpperCase())));
  }
  return router;
}

function parameters(path: string): number {
  return path.split('{').length - 1;
}

function handlersOf(route: Route, service: Service, inFlight: InFlight): RequestHandler[] {
  const guard = requireRole(route);
  if (route.kind === 'page') return [guard, pageHandler(route, service)];
  if (route.ask) {
    const parsers = route.body ? bodyParsers(route) : [];
    return [guard, ...parsers, questionHandler(route, service)];
  }
  return [markCommand, guard, ...bodyParsers(route), commandHandler(route, service, inFlight)];
}

/** So that metrics count what was to change something apart from an inquiry, also a POST. */
const markCommand: RequestHandler = (_req, res, next) => {
  res.locals.isCommand = true;
  next();
};

/**
 * Puts the caller's key into `res.locals.actor`: that of the bearer token, or of the session
 * cookie where no Authorization is sent.
 * @throws Problem unauthenticated, cross-site-request
 */
export function authentication(service: Pick<Service, 'store' | 'clock'>): RequestHandler {
  return (req: Request, res: Response, next: NextFunction) => {
    const bySession = req.headers.authorization === undefined;
    const key = bySession ? keyOfSession(req, service) : keyOfToken(req, service);
    if (!key) throw new Problem('unauthenticated', 'Send a valid API key as a bearer token.');
    if (bySession) assertFromOwnPage(req);
    res.locals.actor = actorOf(key);
    next();
  };
}

function keyOfToken(
  req: Request,
  { store, clock }: Pick<Service, 'store' | 'clock'>,
): KeyRow | undefined {
  const [scheme, token] = (req.headers.authorization ?? '').split(' ', 2);
  if (scheme?.toLowerCase() !== 'bearer' || !token) return undefined;
  return authenticate(store.reading, token, clock());
}

/** Whoever holds a key, as actions and questions know them. */
export function actorOf({ id, name, roles }: KeyRow): Actor {
  return { keyId: id, name, roles };
}

function requireRole(route: Route): RequestHandler {
  return (_req, res, next) => {
    const { roles, name } = res.locals.actor as Actor;
    const allowed = route.roles;
    if (allowed !== 'any' && !allowed.some((role) => roles.includes(role))) {
      throw new Problem('forbidden', `Key ${name} has none of the roles ${allowed.join(', ')}.`, {
        roles: allowed,
      });
    }
    next();
  };
}

function questionHandler(route: Route, service: Service): RequestHandler {
  const ask = route.ask as NonNullable<(...parts: unknown[]) => unknown>;
  return async (req, res) => {
    const csv = wantsCsv(req, route.columns !== undefined);
    const input = {
      params: route.params && parsePart(route.params, { ...req.params }, 'path'),
      query: parsePart(route.query ?? emptyQuery, { ...req.query }, 'query'),
      body: route.body && parsePart(route.body, req.body, 'body'),
      csv,
    };
    const asking = askingOf(service, res.locals.actor as Actor);
    const answer = (await ask(service.store.reading, input, asking)) as object;
    res.setHeader('Cache-Control', 'no-store');
    if (route.kind === 'table') {
      sendPage(req, res, answer as Page<Record<string, unknown>>, route.columns ?? []);
      return;
    }
    if (route.kind === 'inquiry' && 'text' in answer) {
      sendWritten(res, csv, answer as Written);
      return;
    }
    if (csv) {
      const { items } = answer as { items: Record<string, unknown>[] };
      sendCsv(res, items, route.columns ?? []);
      return;
    }
    const version = route.version?.(answer);
    if (version !== undefined) res.setHeader('ETag', etagOf(version));
    sendJson(res, 200, 'application/json', JSON.stringify(answer));
  };
}

function pageHandler(route: Route, service: Service): RequestHandler {
  const ask = route.ask as NonNullable<(...parts: unknown[]) => unknown>;
  return async (req, res) => {
    const media = mediaWanted(req, route.media ?? []);
    const query = parsePart(route.query ?? emptyQuery, { ...req.query }, 'query');
    const asking = askingOf(service, res.locals.actor as Actor);
    const sheet = (await ask(service.store.reading, { query, media }, asking)) as Sheet;
    res.setHeader('Cache-Control', 'no-store');
    res.setHeader('Vary', 'Accept');
    sendSheet(res, sheet);
  };
}

function commandHandler(route: Route, service: Service, inFlight: InFlight): RequestHandler {
  const act = route.act as (command: Command, input: unknown) => Answer<unknown> | Problem;
  return async (req, res) => {
    const actor = res.locals.actor as Actor;
    const key = idempotencyKeyOf(req);
    const input = {
      params: route.params && parsePart(route.params, { ...req.params }, 'path'),
      query: parsePart(emptyQuery, { ...req.query }, 'query'),
      body: parsePart(route.body as NonNullable<typeof route.body>, req.body, 'body'),
      ifMatch: route.needsIfMatch ? ifMatchOf(req) : 0,
    };
    const fingerprint = fingerprintOf(req.method, req.originalUrl, [input.body, input.ifMatch]);
    const leave = inFlight.enter(actor.keyId, key, fingerprint);
    try {
      const prepared = await route.prepare?.(
        input as never,
        askingOf(service, actor),
        service.store.reading,
      );
      const { answer, replayed } = await service.store.command((plant) => {
        const now = service.clock();
        const known = plant.idempotency.find(actor.keyId, key);
        if (known) {
          assertSameRequest(known.fingerprint, fingerprint);
          return { answer: known, replayed: true };
        }
        const made = carryOut(
          route,
          act,
          { prepared, ...input },
          commandOf(plant, actor, now, service.settings),
          service.joinContainments,
        );
        plant.idempotency.keep({
          keyId: actor.keyId,
          idempotencyKey: key,
          fingerprint,
          recordedAtMs: now,
          ...made.kept,
        });
        return { answer: made.sent, replayed: false };
      });
      sendAnswer(res, answer, replayed);
    } finally {
      leave();
    }
  };
}

/** Who asks, when, and what a question may lean on. */
export function askingOf(
  { clock, settings, inWorker }: Pick<Service, 'clock' | 'settings' | 'inWorker'>,
  actor: Actor,
): Asking {
  return { actor, now: clock(), settings, inWorker };
}

/**
 * Runs the action in a savepoint of its own. A thrown problem undoes it and becomes the
 * answer, so that a repeated request gets the same refusal.
 */
function carryOut(
  route: Route,
  act: (command: Command, input: unknown) => Answer<unknown> | Problem,
  input: unknown,
  command: Command,
  joinContainments: Service['joinContainments'],
): { sent: StoredAnswer; kept: StoredAnswer } {
  let answer: Answer<unknown> | Problem;
  try {
    answer = command.plant.atomically(() => {
      const acted = act(command, input);
      if (acted instanceof Problem || !route.joins) return acted;
      const contained = joinContainments(command, [...command.touched]);
      if (contained.length === 0) return acted;
      return { ...acted, body: { ...(acted.body as object), contained } };
    });
  } catch (error) {
    if (!(error instanceof Problem)) throw error;
    answer = error;
  }
  if (answer instanceof Problem) {
    const body = JSON.stringify(answer.document());
    const refusal = { status: answer.status, location: null, body };
    return { sent: refusal, kept: refusal };
  }
  const sent = {
    status: route.status,
    location: answer.location ?? null,
    body: JSON.stringify(answer.body),
  };
  const kept = route.stored ? { ...sent, body: JSON.stringify(route.stored(answer.body)) } : sent;
  return { sent, kept };
}

/** A command under way for an actor. */
export function commandOf(plant: Plant, actor: Actor, now: number, settings: Settings): Command {
  const touched = new Set<number>();
  return {
    plant,
    actor,
    now,
    settings,
    touched,
    record: (kind, content, about, attachment) => {
      for (const id of about?.units ?? []) touched.add(id);
      recordEvent(plant, { keyId: actor.keyId, now }, kind, content, about, attachment);
    },
  };
}

function sendAnswer(res: Response, answer: StoredAnswer, replayed: boolean): void {
  if (replayed) res.setHeader('Idempotency-Replayed', 'true');
  if (answer.location !== null) res.setHeader('Location', answer.location);
  res.setHeader('Cache-Control', 'no-store');
  const isProblem = answer.status >= 400;
  if (isProblem) res.locals.problem = slugOf(answer.body);
  const type = isProblem ? 'application/problem+json' : 'application/json';
  sendJson(res, answer.status, type, answer.body);
}

function slugOf(body: string): string {
  return (JSON.parse(body) as { type: string }).type.replace('/problems/', '');
}

const idempotencyKeyForm = /^[\x21-\x7e]{1,255}$/;

function idempotencyKeyOf(req: Request): string {
  const key = req.headers['idempotency-key'];
  if (typeof key === 'string' && idempotencyKeyForm.test(key)) return key;
  throw new Problem(
    'idempotency-key-missing',
    'Send an Idempotency-Key of 1 to 255 visible characters, a new one for each new command.',
  );
}

function etagOf(version: number): string {
  return `"v${version}"`;
}

const entityTag = /^(?:W\/)?"[^"]*"$/;

/**
 * The version that If-Match names; 0, which no draft has, for an ETag that is not ours.
 * `*` or a list does not say what was read, so they count as none.
 * @throws Problem precondition-required
 */
function ifMatchOf(req: Request): number {
  const sent = req.headers['if-match']?.trim() ?? '';
  if (!entityTag.test(sent)) {
    throw new Problem(
      'precondition-required',
      'Send If-Match with the one ETag of the draft you read.',
    );
  }
  return Number(/^"v(\d{1,9})"$/.exec(sent)?.[1] ?? 0);
}
