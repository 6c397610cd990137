import { html, type Markup } from '../http/html.js';

export interface ScanField {
  /** Prefix of the form's ids: `<id>-form`, `<id>`, `<id>-hint`. */
  id: string;
  label: string;
  hint: string;
  button: string;
  /** Not shown until a script shows it. */
  hidden?: boolean;
}

/** A form of one field that a scanner types into (scripts/lib/scan-form.ts). */
export function scanForm({ id, label, hint, button, hidden }: ScanField): Markup {
  return html`<form id="${id}-form" class="scan panel"${hidden ? html` hidden` : null}>
<label for="${id}">${label}</label>
<div class="scan-line"><input id="${id}" name="scan" autocomplete="off" autocapitalize="none" spellcheck="false" enterkeyhint="go" maxlength="500" aria-describedby="${id}-hint"><button class="main">${button}</button></div>
<p class="hint" id="${id}-hint">${hint}</p>
</form>`;
}
