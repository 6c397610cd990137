/**
 * Control characters that labels carry between their elements (GS, RS, EOT), as scanners that
 * pose as keyboards type them: the control key with the character's place in ISO/IEC 646
 * column 4 or 6 (common practice, no source). A browser would drop them, or take one for a
 * command of its own.
 */
const typed: Readonly<Record<string, string>> = { ']': '\u001d', '^': '\u001e', d: '\u0004' };

/** Lets a field take the control characters of a scanned label. */
export function takeControlCharacters(field: HTMLInputElement): void {
  field.addEventListener('keydown', (event) => {
    const character = event.ctrlKey && !event.altKey ? typed[event.key.toLowerCase()] : undefined;
    if (character === undefined) return;
    event.preventDefault();
    field.setRangeText(
      character,
      field.selectionStart ?? field.value.length,
      field.selectionEnd ?? field.value.length,
      'end',
    );
  });
}
