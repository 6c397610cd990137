import { type Request, type RequestHandler, type Response, Router } from 'express';
import { z } from 'zod';
import { refuseOtherMethods } from '../http/methods.js';
import { actorOf, askingOf, expressPath, type Service } from '../http/mount.js';
import { keyOfSession } from '../http/session.js';
import { parsePart } from '../http/validate.js';
import { Problem } from '../problems.js';
import { type Assets, readAssets } from './assets.js';
import { sendErrorPage, wantsErrorPage } from './error-page.js';
import { formatIn } from './format.js';
import { documentOf, type Frame } from './layout.js';
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

/** All that people look at: screens, signing in and out, and what browsers load beside them. */
export function makePages(service: PageService, limitFailures: LimitFailures): Pages {
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
  return {
    router: routerOf(parts, (req, res) => assetsNow().serve(req, res)),
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

function routerOf(parts: PageParts, serveAsset: RequestHandler): Router {
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
  for (const one of screens) place(expressPath(one.path), { get: [showScreen(one, parts)] });
  return router;
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
