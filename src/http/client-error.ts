import { STATUS_CODES } from 'node:http';
import type { Duplex } from 'node:stream';

/** What the parser of HTTP itself gave up on, by its code. */
const statusOf: Record<string, number> = {
  HPE_HEADER_OVERFLOW: 431,
  ERR_HTTP_REQUEST_TIMEOUT: 408,
};

/**
 * Answers what is no HTTP request at all, before any route is known, and hangs up. The
 * problem is `about:blank` (RFC 9457, 4.2.1): its status says everything.
 */
export function answerUnreadable(error: Error & { code?: string }, socket: Duplex): void {
  if (error.code === 'ECONNRESET' || !socket.writable) {
    socket.destroy();
    return;
  }
  const status = statusOf[error.code ?? ''] ?? 400;
  const title = STATUS_CODES[status] ?? '';
  const body = JSON.stringify({
    type: 'about:blank',
    title,
    status,
    detail: 'This is no HTTP request that can be read here.',
  });
  const head = [
    `HTTP/1.1 ${status} ${title}`,
    'Connection: close',
    'Cache-Control: no-store',
    'Content-Type: application/problem+json',
    `Content-Length: ${Buffer.byteLength(body)}`,
  ];
  socket.end(`${head.join('\r\n')}\r\n\r\n${body}`);
}
