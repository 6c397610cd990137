import express, { type Request, type RequestHandler, type Response } from 'express';
import { authenticate } from '../access/actions.js';
import { closeSession, openSession } from '../access/session-actions.js';
import { html, type Markup } from '../http/html.js';
import { assertFromOwnPage, giveSession, sessionIdOf, takeSession } from '../http/session.js';
import { Problem } from '../problems.js';
import { documentOf } from './layout.js';
import type { PageParts } from './mount.js';
import { answerOf } from './parts.js';
import { sendDocument } from './send.js';
import type { Words } from './words/words.js';

const FORM_LIMIT = '8kb';
export const signInForm = express.urlencoded({ extended: false, limit: FORM_LIMIT });

/** The page that takes a key. */
export function showSignIn(parts: PageParts): RequestHandler {
  return (req, res) => sendForm(parts, req, res, 200);
}

/** Opens a session for a key's token and leads to where its holder wanted to go. */
export function signIn(parts: PageParts): RequestHandler {
  const { store, clock } = parts;
  return async (req, res, next) => {
    assertFromOwnPage(req);
    const { words } = parts.frameOf(req);
    const token = textOf(req.body, 'token').trim();
    const key = authenticate(store.reading, token, clock());
    if (!key) {
      if (token === '') {
        sendForm(parts, req, res, 422, words.signIn.missing);
        return;
      }
      parts.limitFailures(req, res, (limited) => {
        if (limited === undefined) sendForm(parts, req, res, 401, words.signIn.refused);
        else if (limited instanceof Problem) sendForm(parts, req, res, 429, words.signIn.tooMany);
        else next(limited);
      });
      return;
    }
    const before = sessionIdOf(req);
    const id = await store.command((plant) => {
      if (before !== undefined) closeSession(plant, before);
      return openSession(plant, key.id, clock());
    });
    giveSession(req, res, id);
    res.redirect(303, ownAddress(textOf(req.body, 'to')));
  };
}

/** Ends the session, here and in the browser. */
export function signOut({ store }: PageParts): RequestHandler {
  return async (req, res) => {
    assertFromOwnPage(req);
    const id = sessionIdOf(req);
    if (id !== undefined) await store.command((plant) => closeSession(plant, id));
    takeSession(req, res);
    res.redirect(303, '/sign-in');
  };
}

/** The address that leads to sign-in and from there back to a page. */
export function signInAddress(page: string): string {
  return page === '/' ? '/sign-in' : `/sign-in?to=${encodeURIComponent(page)}`;
}

/** An address of this service; `/` in place of one that leads anywhere else. */
export function ownAddress(text: string): string {
  const here = 'http://here.invalid';
  if (!text.startsWith('/') || !URL.canParse(text, here)) return '/';
  const { origin, pathname, search } = new URL(text, here);
  return origin === here ? `${pathname}${search}` : '/';
}

function sendForm(
  parts: PageParts,
  req: Request,
  res: Response,
  status: number,
  fault?: string,
): void {
  const frame = { ...parts.frameOf(req), actor: undefined };
  const to = textOf(req.method === 'POST' ? req.body : req.query, 'to');
  // RFC 9110, 15.5.2: a 401 says how to authenticate.
  if (status === 401) res.setHeader('WWW-Authenticate', 'Bearer realm="skeg"');
  const title = frame.words.signIn.title;
  const main = form(frame.words, ownAddress(to), fault);
  sendDocument(res, status, documentOf(frame, { title, main }));
}

function form({ signIn: words }: Words, to: string, fault: string | undefined): Markup {
  const describes = fault === undefined ? 'token-hint' : 'token-hint sign-in-fault';
  const invalid = fault === undefined ? null : html` aria-invalid="true"`;
  return html`<p class="lead">${words.lead}</p>
${fault === undefined ? null : answerOf('refused', fault, { id: 'sign-in-fault' })}
<form method="post" action="/sign-in" class="fields narrow">
<input type="hidden" name="to" value="${to}">
<div class="field"><label for="token">${words.token}</label>
<input id="token" name="token" type="password" autocomplete="current-password" required autofocus spellcheck="false" aria-describedby="${describes}"${invalid}>
<p class="hint" id="token-hint">${words.tokenHint}</p></div>
<button class="main">${words.submit}</button>
</form>`;
}

function textOf(source: unknown, name: string): string {
  const value = (source as Record<string, unknown> | undefined)?.[name];
  return typeof value === 'string' ? value : '';
}
