import type { Response } from 'express';
import { sendJson } from '../http/problem-response.js';

/** Pages load scripts, styles and answers from this service alone, and run nothing inline. */
const POLICY = [
  "default-src 'none'",
  "script-src 'self'",
  "style-src 'self'",
  "img-src 'self' data:",
  "connect-src 'self'",
  "form-action 'self'",
  "base-uri 'none'",
  "frame-ancestors 'none'",
].join('; ');

/** Sends an HTML document for people. */
export function sendDocument(res: Response, status: number, text: string): void {
  res.setHeader('Content-Security-Policy', POLICY);
  // A form that sends no referrer would send `Origin: null` too, and be taken for a stranger's.
  res.setHeader('Referrer-Policy', 'same-origin');
  res.setHeader('Cache-Control', 'no-store');
  sendJson(res, status, 'text/html; charset=utf-8', text);
}
