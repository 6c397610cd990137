import { type Request, type RequestHandler, type Response, Router } from 'express';
import { z } from 'zod';
import { signedInAs } from '../access/session-actions.js';
import { refuseOtherMethods } from '../http/methods.js';
import { actorOf, askingOf, expressPath, type Service } from '../http/mount.js';
import { keyOfSession, sessionIdOf } from '../http/session.js';
import { parsePart } from '../http/validate.js';
import { Problem } from '../problems.js';
import { type Assets, readAssets } from './assets.js';
import { sendErrorPage, wantsErrorPage } from './error-page.js';
import { formatIn } from './format.js';
import { documentOf, type Frame } from './layout.js';
import { LiveStream } from './live/stream.js';
import { screens } from './routes.js';
import { isOpenTo, type Screen, type Viewing } from './screen.js';
import { sendDocument } from './send.js';
import { showSignIn, signIn, signInAddress, signInForm, signOut } from './sign-in.js';
import { wordsOf } from './words/words.js';

type PageService = Pick<Service, 'store' | 'clock' | 'settings' | 'inWorker'>;

/** Counts a failed sign-in against the caller's address; told a Problem once there are too many. */
export type LimitFailures = (
  req: Request,
  res: Response,
  next: (limited?: unknown) => void,
) => unknown;

export interface PageParts extends PageService {
  limitFailures: LimitFailures;
  frameOf: (req: Request) => Frame;
}

export interface Pages {
  router: Router;
  /** Tells a problem as a page where a person asked; false where it is for somebody else. */
  answerError: (req: Request, res: Response, problem: Problem) => boolean;
}

/**
 * All that people look at: screens, signing in and out, and what browsers load beside them.
 * @param closing ends what goes on for as long as somebody looks
 */
export function makePages(
  service: PageService,
  limitFailures: LimitFailures,
  closing?: AbortSignal,
): Pages {
  // Read when the first page is asked for, since many a process only serves programs.
  let assets: Assets | undefined;
  const assetsNow = () => {
    assets ??= readAssets();
    return assets;
  };
  const frameOf = (req: Request): Frame => {
    const key = keyOfSession(req, service);
    return {
      words: wordsOf('en'),
      timeZone: service.settings.timeZone,
      assets: assetsNow(),
      actor: key && actorOf(key),
    };
  };
  const parts: PageParts = { ...service, limitFailures, frameOf };
  const stream = new LiveStream(service, closing);
  return {
    router: routerOf(parts, (req, res) => assetsNow().serve(req, res), liveStream(stream, service)),
    answerError(req, res, problem) {
      if (!wantsErrorPage(req)) return false;
      try {
        sendErrorPage(res, problem, frameOf(req));
        return true;
      } catch {
        // What is in trouble may be what a page needs; a plain problem needs nothing.
        return false;
      }
    },
  };
}

function routerOf(
  parts: PageParts,
  serveAsset: RequestHandler,
  streamLive: RequestHandler,
): Router {
  const router = Router({ caseSensitive: true, strict: true });
  const place = (path: string, methods: Partial<Record<'get' | 'post', RequestHandler[]>>) => {
    const route = router.route(path);
    if (methods.get) route.get(...methods.get);
    if (methods.post) route.post(...methods.post);
    route.all(refuseOtherMethods(Object.keys(methods).map((one) => one.toUpperCase())));
  };
  place('/assets/*name', { get: [serveAsset] });
  place('/sign-in', { get: [showSignIn(parts)], post: [signInForm, signIn(parts)] });
  place('/sign-out', { post: [signOut(parts)] });
  place('/', { get: [leadToFirstScreen(parts)] });
  place('/live/stream', { get: [streamLive] });
  for (const one of screens) place(expressPath(one.path), { get: [showScreen(one, parts)] });
  return router;
}

/** Looking on does not count as use: a session that nobody uses ends below an open page too. */
function liveStream(stream: LiveStream, { store, clock }: PageService): RequestHandler {
  return (req, res) => {
    const id = sessionIdOf(req);
    const maySee = () => id !== undefined && signedInAs(store.reading, id, clock()) !== undefined;
    if (!maySee()) throw new Problem('unauthenticated', 'Sign in to look on.');
    if (stream.listen(res, maySee)) return;
    res.setHeader('Retry-After', '60');
    res.status(503).type('text/plain').send(wordsOf('en').live.tooMany);
  };
}

/** `/` leads to the screen where the key's work begins. */
function leadToFirstScreen({ frameOf }: PageParts): RequestHandler {
  return (req, res) => {
    const { actor, words } = frameOf(req);
    if (!actor) {
      res.redirect(303, signInAddress('/'));
      return;
    }
    const { roles } = actor;
    const listed = screens.filter((one) => !one.path.includes('{') && isOpenTo(one, roles));
    const first =
      listed.find((one) => one.startFor.some((role) => roles.includes(role))) ?? listed[0];
    if (!first) throw new Problem('forbidden', words.error.noScreen);
    res.redirect(303, first.path);
  };
}

const emptyQuery = z.strictObject({});

function showScreen(screen: Screen, parts: PageParts): RequestHandler {
  return async (req, res) => {
    const frame = { ...parts.frameOf(req), name: screen.name };
    const { actor, words, timeZone } = frame;
    if (!actor) {
      res.redirect(303, signInAddress(req.originalUrl));
      return;
    }
    if (!isOpenTo(screen, actor.roles)) {
      const wanted = { roles: screen.roles };
      throw new Problem('forbidden', words.error.notYours(actor.name, screen.roles), wanted);
    }
    const input = {
      params: screen.params && parsePart(screen.params, { ...req.params }, 'path'),
      query: parsePart(screen.query ?? emptyQuery, { ...req.query }, 'query'),
    };
    const format = formatIn(words, timeZone);
    const viewing: Viewing = { ...askingOf(parts, actor), words, format };
    const view = await screen.show(parts.store.reading, input as never, viewing);
    sendDocument(res, 200, documentOf(frame, view));
  };
}
