import { isUtf8 } from 'node:buffer';
import express, { type RequestHandler } from 'express';
import { Problem } from '../problems.js';
import type { Route } from './route.js';

/** A refused body is read off, so that its sender gets to read why; one said to be longer is not. */
const READ_OFF_LIMIT = 16 * 1024 * 1024;

/** Content codings that a body may have. */
const codings = ['identity', 'gzip', 'deflate', 'br'];

/** Checks a command's body for its form and puts it, parsed, into `req.body`. */
export function bodyParsers(route: Route): RequestHandler[] {
  const type = route.kind === 'import' ? 'text/csv' : 'application/json';
  const limit = route.bodyLimit;
  const parser =
    route.kind === 'import'
      ? express.text({ type: () => true, limit, defaultCharset: 'utf-8', verify: textCheck })
      : express.json({ type: () => true, limit, strict: true, verify: jsonCheck });
  return [checkForm(type), refuseEndless, parser];
}

/** @throws Problem body-too-large, at once and for good, where the body is said to be immense */
const refuseEndless: RequestHandler = (req, res, next) => {
  if (Number(req.headers['content-length'] ?? 0) > READ_OFF_LIMIT) {
    res.setHeader('Connection', 'close');
    throw new Problem('body-too-large', 'The body is larger than any address takes.');
  }
  next();
};

/** @throws Problem media-type-unsupported, with what would be taken (RFC 9110, 15.5.16) */
function checkForm(type: string): RequestHandler {
  return (req, res, next) => {
    const sent = (req.headers['content-type'] ?? '').split(';', 1)[0]?.trim().toLowerCase();
    if (sent !== type) {
      res.setHeader('Accept', type);
      throw new Problem(
        'media-type-unsupported',
        `This address takes ${type}, not ${sent || 'nothing'}.`,
      );
    }
    const coding = (req.headers['content-encoding'] ?? 'identity').trim().toLowerCase();
    if (!codings.includes(coding)) {
      res.setHeader('Accept-Encoding', codings.slice(1).join(', '));
      throw new Problem('media-type-unsupported', 'The body’s content coding is not supported.');
    }
    next();
  };
}

/** A fault that `problemOf` knows by its type. */
function fault(type: string): Error {
  return Object.assign(new Error(type), { type });
}

/** JSON is UTF-8 and nothing else (RFC 8259, 8.1). */
function jsonCheck(_req: unknown, _res: unknown, body: Buffer, charset: string): void {
  if (charset !== 'utf-8') throw fault('charset.unsupported');
  if (!isUtf8(body)) throw fault('charset.broken');
}

/** A file may say its character set; what claims to be UTF-8 has to be. */
function textCheck(_req: unknown, _res: unknown, body: Buffer, charset: string): void {
  if (charset === 'utf-8' && !isUtf8(body)) throw fault('charset.broken');
}
