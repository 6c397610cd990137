/**
 * Brings regions of this page up to date: asks for the page again and puts its elements with
 * these ids in place of those here, so that their markup is made in one place, by the service.
 * What is typed, chosen or focused outside them stays.
 * @returns whether they could be had; what is shown stays where not
 */
export async function refresh(
  ids: readonly string[],
  address: string = location.href,
): Promise<boolean> {
  const page = await freshPage(address);
  if (!page) return false;
  const focused = document.activeElement?.id;
  for (const id of ids) {
    const fresh = page.getElementById(id);
    if (fresh) document.getElementById(id)?.replaceWith(document.adoptNode(fresh));
  }
  if (focused && document.activeElement === document.body) {
    document.getElementById(focused)?.focus();
  }
  return true;
}

async function freshPage(address: string): Promise<Document | undefined> {
  try {
    const response = await fetch(address, {
      headers: { Accept: 'text/html' },
      credentials: 'same-origin',
      cache: 'no-store',
      redirect: 'error',
      signal: AbortSignal.timeout(10_000),
    });
    if (!response.ok) return undefined;
    return new DOMParser().parseFromString(await response.text(), 'text/html');
  } catch {
    return undefined;
  }
}
