const EDITABLE = 'input, select, textarea, [contenteditable]';
const INTERACTIVE = `${EDITABLE}, a, button, summary, label, dialog`;

/**
 * Keeps the focus on the field that a scanner types into, without trapping it: whoever moves
 * on by Tab stays there, but what is typed outside any field goes into this one, and so does
 * the focus when the window comes back or an idle place is touched.
 * @returns a function that puts the focus into the field
 */
export function keepFocus(field: HTMLInputElement): () => void {
  const back = () => field.focus({ preventScroll: true });
  document.addEventListener(
    'keydown',
    (event) => {
      if (event.key.length !== 1 || event.ctrlKey || event.metaKey || event.altKey) return;
      if (isIn(event.target, EDITABLE)) return;
      // A blank on a button or link is its own key.
      if (event.key === ' ' && isIn(event.target, INTERACTIVE)) return;
      back();
    },
    { capture: true },
  );
  document.addEventListener('click', (event) => {
    // Whoever marks a serial to copy it keeps what is marked.
    const isMarking = getSelection()?.isCollapsed === false;
    if (!isMarking && !isIn(event.target, INTERACTIVE)) back();
  });
  window.addEventListener('focus', () => {
    if (!isIn(document.activeElement, EDITABLE)) back();
  });
  back();
  return back;
}

function isIn(target: EventTarget | null, selector: string): boolean {
  return target instanceof Element && target.closest(selector) !== null;
}
