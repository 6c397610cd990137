import { randomUUID } from 'node:crypto';
import { request } from 'node:http';
import { type AddressInfo, connect } from 'node:net';
import { expect } from 'vitest';
import { assertDocumented } from './document-check.js';
import type { TestPlant } from './plant.js';

/** A request as it goes over the wire, with nothing added but what is said here. */
export interface WireRequest {
  method?: string;
  path: string;
  /** Which of the plant's keys it carries; none where left out. */
  as?: string;
  headers?: Record<string, string>;
  body?: string | Buffer;
}

export interface WireAnswer {
  status: number;
  headers: Record<string, string>;
  text: string;
  /** The parsed text where it is JSON. */
  body: Record<string, unknown>;
}

export function portOf(plant: TestPlant): number {
  return (plant.service.server.address() as AddressInfo).port;
}

/** The secret of a token, which may itself hold the sign that separates the token's parts. */
export function secretOf(token: string): string {
  return token.replace(/^skeg_\d+_/, '');
}

/** Sends a request by node:http, so that methods, bytes and headers are exactly those given. */
export function exchange(plant: TestPlant, sent: WireRequest): Promise<WireAnswer> {
  const token = sent.as === undefined ? undefined : plant.tokens.get(sent.as);
  const headers = { ...(token ? { Authorization: `Bearer ${token}` } : {}), ...sent.headers };
  return new Promise((resolve, reject) => {
    const outgoing = request(
      {
        host: '127.0.0.1',
        port: portOf(plant),
        method: sent.method ?? 'GET',
        path: sent.path,
        headers,
        agent: false,
      },
      (incoming) => {
        const parts: Buffer[] = [];
        incoming.on('data', (part: Buffer) => parts.push(part));
        incoming.on('end', () => {
          const text = Buffer.concat(parts).toString('utf8');
          const isJson = /json/.test(incoming.headers['content-type'] ?? '') && text !== '';
          resolve({
            status: incoming.statusCode ?? 0,
            headers: incoming.headers as Record<string, string>,
            text,
            body: isJson ? JSON.parse(text) : {},
          });
        });
      },
    );
    outgoing.on('error', reject);
    outgoing.end(sent.body);
  });
}

/** Sends text over a bare socket and returns all that comes back until the server hangs up. */
export function exchangeText(port: number, text: string): Promise<string> {
  return new Promise((resolve, reject) => {
    const socket = connect(port, '127.0.0.1', () => socket.write(text));
    let answer = '';
    socket.setEncoding('utf8');
    socket.on('data', (part: string) => {
      answer += part;
    });
    socket.on('close', () => resolve(answer));
    socket.on('error', reject);
  });
}

/** A command's headers: JSON and a fresh Idempotency-Key. */
export function commandHeaders(more: Record<string, string> = {}): Record<string, string> {
  return { 'Content-Type': 'application/json', 'Idempotency-Key': randomUUID(), ...more };
}

/** A POST of a body, text as it is and anything else as JSON. */
export function posting(
  as: string,
  path: string,
  body: unknown,
  headers: Record<string, string> = {},
): WireRequest {
  const sent = typeof body === 'string' || Buffer.isBuffer(body) ? body : JSON.stringify(body);
  return { method: 'POST', path, as, headers: commandHeaders(headers), body: sent };
}

/**
 * Sends a request that must be refused and returns the refusal: the problem document
 * with that status and type, as the API document lists it, and no event recorded.
 */
export async function refused(
  plant: TestPlant,
  sent: WireRequest,
  status: number,
  slug: string,
): Promise<WireAnswer> {
  const before = plant.eventCount();
  const answer = await exchange(plant, sent);
  expect({ status: answer.status, type: answer.body.type }, answer.text).toEqual({
    status,
    type: `/problems/${slug}`,
  });
  expect(answer.headers['content-type']).toBe('application/problem+json');
  expect(answer.body.status).toBe(status);
  expect(plant.eventCount()).toBe(before);
  const method = (sent.method ?? 'GET').toLowerCase();
  const isListed = ['get', 'post', 'put'].includes(method) && slug !== 'route-unknown';
  if (isListed) assertDocumented(method, sent.path, answer);
  return answer;
}
