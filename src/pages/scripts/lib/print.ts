/**
 * Opens what is folded while the page is printed, since paper cannot be clicked.
 * @param folded the selector of those `details` that belong on paper
 */
export function openForPrint(folded: string): void {
  let opened: HTMLDetailsElement[] = [];
  window.addEventListener('beforeprint', () => {
    opened = [...document.querySelectorAll<HTMLDetailsElement>(`${folded}:not([open])`)];
    for (const one of opened) one.open = true;
  });
  window.addEventListener('afterprint', () => {
    for (const one of opened) one.open = false;
    opened = [];
  });
}
