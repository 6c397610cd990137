export type Child = Node | string | null | undefined;

/**
 * An element with attributes and children. Text is text, never markup, so nothing that was
 * scanned or answered can become part of the page's structure.
 */
export function element<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Readonly<Record<string, string | boolean>> = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) made.setAttribute(name, '');
    else if (value !== false) made.setAttribute(name, value);
  }
  made.append(...children.filter((child) => child !== null && child !== undefined));
  return made;
}

const SVG = 'http://www.w3.org/2000/svg';

/** One of the page's icons (src/pages/icons.ts), beside the words that say the same. */
export function icon(name: string): SVGElement {
  const made = document.createElementNS(SVG, 'svg');
  made.setAttribute('class', 'icon');
  made.setAttribute('aria-hidden', 'true');
  const use = document.createElementNS(SVG, 'use');
  use.setAttribute('href', `#icon-${name}`);
  made.append(use);
  return made;
}

/** A button that does something on this page. */
export function button(label: string, act: () => void, kind = ''): HTMLButtonElement {
  const made = element('button', { type: 'button', class: kind }, label);
  made.addEventListener('click', act);
  return made;
}
