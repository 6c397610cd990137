import { element } from '../lib/dom.js';

const SVG = 'http://www.w3.org/2000/svg';
const shapes = {
  dot: ['circle', { cx: '14', cy: '8', r: '4.5', class: 'open-dot' }],
  square: ['rect', { x: '10', y: '4', width: '8', height: '8', class: 'open-square' }],
  diamond: ['path', { d: 'M14 1l7 7-7 7-7-7z', class: 'filled-diamond' }],
  solid: ['path', { d: 'M0 8h28', class: 'solid-line' }],
  dashed: ['path', { d: 'M0 8h28', class: 'dashed-line' }],
  specification: ['path', { d: 'M0 8h28', class: 'specification-line' }],
  acceptance: ['path', { d: 'M0 8h28', class: 'acceptance-line' }],
  mean: ['path', { d: 'M0 8h28', class: 'mean-line' }],
} as const;

/** What the shapes and lines of a drawing mean. */
export function legend(
  items: readonly (readonly [shape: keyof typeof shapes, text: string])[],
): HTMLElement {
  const lines = items.map(([shape, text]) => element('li', {}, sample(shape), ' ', text));
  return element('ul', { class: 'legend' }, ...lines);
}

function sample(name: keyof typeof shapes): SVGElement {
  const made = document.createElementNS(SVG, 'svg');
  made.setAttribute('viewBox', '0 0 28 16');
  made.setAttribute('aria-hidden', 'true');
  const [tag, attributes] = shapes[name];
  const shape = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(attributes)) shape.setAttribute(key, value);
  made.append(shape);
  return made;
}
