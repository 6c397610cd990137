const PROBE_EVERY_MS = 2_000;
const PROBE_GIVES_UP_MS = 1_500;

let watching: ReturnType<typeof setInterval> | undefined;

/** Looks every two seconds whether the service answers, and says so once when it does. */
export function whenBack(act: () => void): void {
  stopWatching();
  const mine = setInterval(async () => {
    // The look takes time: another answer may have been told meanwhile.
    if (!(await isThere()) || watching !== mine) return;
    stopWatching();
    act();
  }, PROBE_EVERY_MS);
  watching = mine;
}

/** Looks no more: whoever waited has had another answer, which must not be written over. */
export function stopWatching(): void {
  clearInterval(watching);
  watching = undefined;
}

async function isThere(): Promise<boolean> {
  try {
    const signal = AbortSignal.timeout(PROBE_GIVES_UP_MS);
    return (await fetch('/health/live', { cache: 'no-store', signal })).ok;
  } catch {
    return false;
  }
}
