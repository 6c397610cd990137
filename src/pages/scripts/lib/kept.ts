/**
 * What this browser remembers between visits, under `skeg.` and a name; undefined where it
 * remembers nothing, or may not.
 */
export function remembered<T>(name: string): T | undefined {
  try {
    const text = localStorage.getItem(`skeg.${name}`);
    return text === null ? undefined : (JSON.parse(text) as T);
  } catch {
    return undefined;
  }
}

/** Remembers a value, or forgets it where it is undefined. */
export function remember(name: string, value: unknown): void {
  try {
    if (value === undefined) localStorage.removeItem(`skeg.${name}`);
    else localStorage.setItem(`skeg.${name}`, JSON.stringify(value));
  } catch {
    // A browser that may keep nothing still works until its page is closed.
  }
}
