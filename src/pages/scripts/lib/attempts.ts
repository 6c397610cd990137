import { remember, remembered } from './kept.js';

interface Attempt {
  key: string;
  startedAtMs: number;
}

const NAME = 'unanswered';
/** The service keeps answers for seven days; an older key would no longer find its answer. */
const FORGET_AFTER_MS = 6 * 24 * 60 * 60 * 1000;

/** In memory too, for a browser that may keep nothing. */
let open: Record<string, Attempt> = remembered(NAME) ?? {};

function keep(attempts: Record<string, Attempt>): void {
  open = attempts;
  remember(NAME, Object.keys(attempts).length === 0 ? undefined : attempts);
}

/**
 * The Idempotency-Key of a request: that of its earlier attempt while this had no answer, so
 * that sending it again changes nothing twice; else a new one.
 * @param request what the request asks, as text: the same text is the same request
 */
export function attemptKey(request: string): string {
  const now = Date.now();
  const recent = Object.entries(open).filter(([, one]) => now - one.startedAtMs < FORGET_AFTER_MS);
  const attempts = Object.fromEntries(recent);
  const attempt = attempts[request] ?? { key: randomKey(), startedAtMs: now };
  keep({ ...attempts, [request]: attempt });
  return attempt.key;
}

/** Notes that a request has its answer: the same again would be a new one. */
export function answered(request: string): void {
  const { [request]: _done, ...rest } = open;
  keep(rest);
}

/** 128 random bits; `crypto.randomUUID` is not there on plain HTTP. */
function randomKey(): string {
  return [...crypto.getRandomValues(new Uint8Array(16))]
    .map((byte) => byte.toString(16).padStart(2, '0'))
    .join('');
}
