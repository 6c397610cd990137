import type { Request, Response } from 'express';
import { html } from '../http/html.js';
import { type Problem, problemCatalogue } from '../problems.js';
import { icon } from './icons.js';
import { documentOf, type Frame } from './layout.js';
import { sendDocument } from './send.js';

const PROGRAMS = ['/v1', '/health', '/metrics', '/openapi', '/problems', '/assets'];

/** Whether an error is to be told as a page: a person asked, and not at an address for programs. */
export function wantsErrorPage(req: Request): boolean {
  if (PROGRAMS.some((start) => req.path.startsWith(start))) return false;
  return req.accepts(['application/problem+json', 'text/html']) === 'text/html';
}

/** Sends a problem as a page that says what it is, what to do, and how to go on. */
export function sendErrorPage(res: Response, problem: Problem, frame: Frame): void {
  const { words, actor } = frame;
  const [status, title, about] = problemCatalogue[problem.slug];
  // Where a problem names members, its sentence says enough; what stands beside it is for programs.
  const advice = words.error.advice[status] ?? ('errors' in problem.extensions ? null : about);
  // What the problem says of an unknown address is for programs.
  const sentence = problem.slug === 'route-unknown' ? null : problem.message;
  const main = html`<section class="answer refused">
<h2>${icon('refused')} ${sentence ?? advice}</h2>
${sentence === null || advice === null ? null : html`<p>${advice}</p>`}
</section>
<p><a href="/">${words.error.back}</a></p>
${actor && status === 403 ? html`<p><a href="/sign-in">${words.error.signIn}</a></p>` : null}
<p class="soft">${words.error.reference(String(res.locals.requestId))}</p>`;
  res.locals.problem = problem.slug;
  sendDocument(res, status, documentOf(frame, { title, main }));
}
