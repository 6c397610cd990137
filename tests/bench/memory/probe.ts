/**
 * Preloaded into the service's process (`node --import`): answers each message of the
 * parent with the bytes of heap in use after a collection. Needs --expose-gc.
 */
process.on('message', () => {
  globalThis.gc?.();
  process.send?.(process.memoryUsage().heapUsed);
});
// The service ends when it is told to, not when this stops listening.
process.channel?.unref();
