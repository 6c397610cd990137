import type { Request, Response } from 'express';
import type { KeyRow } from '../access/records.js';
import { noteUse, signedInAs } from '../access/session-actions.js';
import type { Plant } from '../plant.js';
import { Problem } from '../problems.js';
import type { Store } from '../store/store.js';
import type { Clock } from '../time.js';

interface Parts {
  store: Store<Plant>;
  clock: Clock;
}

/** Over TLS the name itself makes a browser refuse the cookie to other hosts and paths. */
function cookieName(req: Request): string {
  return req.secure ? '__Host-skeg-session' : 'skeg-session';
}

/** The session id that a request carries; undefined without one. */
export function sessionIdOf(req: Request): string | undefined {
  const name = `${cookieName(req)}=`;
  const cookies = (req.headers.cookie ?? '').split(';').map((one) => one.trim());
  return cookies.find((one) => one.startsWith(name))?.slice(name.length);
}

/** The key behind a request's session cookie; undefined without one, or when it has ended. */
export function keyOfSession(req: Request, { store, clock }: Parts): KeyRow | undefined {
  const id = sessionIdOf(req);
  const now = clock();
  const signedIn = id === undefined ? undefined : signedInAs(store.reading, id, now);
  if (id === undefined || !signedIn) return undefined;
  if (signedIn.isStale) {
    // A store that cannot write says so elsewhere; the session then merely ends sooner.
    store.command((plant) => noteUse(plant, id, now)).catch(() => undefined);
  }
  return signedIn.key;
}

/** Gives the browser a session's id until it is closed or told to forget it. */
export function giveSession(req: Request, res: Response, id: string): void {
  res.cookie(cookieName(req), id, cookieTerms(req));
}

export function takeSession(req: Request, res: Response): void {
  res.clearCookie(cookieName(req), cookieTerms(req));
}

function cookieTerms(req: Request) {
  return { httpOnly: true, sameSite: 'strict', secure: req.secure, path: '/' } as const;
}

/**
 * A browser sends a cookie along whoever made the page. So whatever changes something by
 * cookie must say that a page of this very origin sent it: by Sec-Fetch-Site (Fetch Metadata)
 * or, from a browser or an address that has none, by Origin (RFC 6454).
 * @throws Problem cross-site-request
 */
export function assertFromOwnPage(req: Request): void {
  if (req.method === 'GET' || req.method === 'HEAD') return;
  const site = req.headers['sec-fetch-site'];
  if (site === undefined ? isOwnOrigin(req) : site === 'same-origin') return;
  throw new Problem(
    'cross-site-request',
    'This did not come from a page of this service: nothing was changed. Open the page again here.',
  );
}

function isOwnOrigin(req: Request): boolean {
  const { origin } = req.headers;
  return origin !== undefined && URL.canParse(origin) && new URL(origin).host === req.host;
}
