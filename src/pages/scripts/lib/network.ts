const PROBE_EVERY_MS = 2_000;
const PROBE_GIVES_UP_MS = 1_500;

let watching: ReturnType<typeof setInterval> | undefined;

/** Looks every two seconds whether the service answers, and says so once when it does. */
export function whenBack(act: () => void): void {
  clearInterval(watching);
  watching = setInterval(async () => {
    if (!(await isThere())) return;
    clearInterval(watching);
    act();
  }, PROBE_EVERY_MS);
}

async function isThere(): Promise<boolean> {
  try {
    const signal = AbortSignal.timeout(PROBE_GIVES_UP_MS);
    return (await fetch('/health/live', { cache: 'no-store', signal })).ok;
  } catch {
    return false;
  }
}
