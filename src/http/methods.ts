import type { RequestHandler } from 'express';
import { Problem } from '../problems.js';

/**
 * Answers whatever an address does not take with 405 and what it does take in Allow.
 * @param methods in capitals; HEAD comes with GET
 */
export function refuseOtherMethods(methods: readonly string[]): RequestHandler {
  const allow = [...methods, ...(methods.includes('GET') ? ['HEAD'] : [])].sort().join(', ');
  return (_req, res) => {
    res.setHeader('Allow', allow);
    throw new Problem('method-not-allowed', `This address takes ${allow}.`);
  };
}
