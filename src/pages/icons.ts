import { html, type Markup, Markup as Raw } from '../http/html.js';

/** Shapes that differ without colour: each stands beside its word, never alone. */
const shapes = {
  /** A tick in a disc. */
  accepted: '<circle cx="12" cy="12" r="10"/><path class="cut" d="m7 12.5 3.5 3.5L17 9"/>',
  /** A cross in an octagon. */
  refused: '<path d="M8 2h8l6 6v8l-6 6H8l-6-6V8z"/><path class="cut" d="m8.5 8.5 7 7m0-7-7 7"/>',
  /** An exclamation mark in a triangle. */
  caution: '<path d="M12 2 23 21H1z"/><path class="cut" d="M12 9v5.5m0 3v.5"/>',
  /** Three dots in a square. */
  waiting: '<path d="M2 4h20v16H2z"/><path class="cut" d="M7 12h.5m4.25 0h.5m4.25 0h.5"/>',
  /** An i in a rounded square. */
  noted:
    '<rect x="2" y="2" width="20" height="20" rx="5"/><path class="cut" d="M12 7v.5m0 3.5v6"/>',
} as const;

export type IconName = keyof typeof shapes;

/** All icons once a page, so that markup and scripts point at them. */
export function iconSprite(): Markup {
  const symbols = Object.entries(shapes).map(
    ([name, shape]) =>
      html`<symbol id="icon-${name}" viewBox="0 0 24 24">${new Raw(shape)}</symbol>`,
  );
  return html`<svg class="sprite" aria-hidden="true" focusable="false">${symbols}</svg>`;
}

/** An icon beside the words that say the same; readers of the page by ear pass over it. */
export function icon(name: IconName): Markup {
  return html`<svg class="icon" aria-hidden="true" focusable="false"><use href="#icon-${name}"></use></svg>`;
}
