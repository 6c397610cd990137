import type * as PlotLibrary from '@observablehq/plot';
import { element } from './dom.js';
import { byId, words } from './page.js';

declare global {
  interface Window {
    Plot?: typeof PlotLibrary;
  }
}

export type Plot = typeof PlotLibrary;

const NARROWEST = 240;
/** Marks that are stops of the tab key; of more, the table has the same links in an order of its own. */
const STOPS = 60;

/**
 * Draws a chart into its place (`chartPlace`) and again whenever the width changes. Marks that
 * stand for motors carry `href`. The library writes its rules into each drawing, which the
 * page's policy forbids: they are taken out, and style/base.css has ours.
 * @param draw makes the drawing for a width in CSS pixels
 */
export function drawChart(
  id: string,
  draw: (plot: Plot, width: number) => SVGElement | HTMLElement,
): void {
  const place = byId(id).querySelector<HTMLElement>('.drawing');
  if (!place) throw new Error(`#${id} is no place for a chart`);
  const plot = window.Plot;
  if (!plot) {
    place.replaceChildren(element('p', {}, words.chart.notDrawn));
    return;
  }
  let drawnFor = 0;
  const observer = new ResizeObserver(() => {
    const width = Math.max(NARROWEST, Math.floor(place.clientWidth));
    if (width === drawnFor) return;
    drawnFor = width;
    const drawing = draw(plot, width);
    for (const style of drawing.querySelectorAll('style')) style.remove();
    putLabelsRight(drawing);
    nameIt(drawing, byId(id).querySelector('figcaption')?.textContent ?? '');
    place.replaceChildren(drawing);
  });
  observer.observe(place);
}

/**
 * The library labels its groups in its own words, and a mark inside of its link, where ARIA
 * allows neither: the groups lose theirs, and a link bears that of its mark.
 */
function putLabelsRight(drawing: Element): void {
  for (const group of drawing.querySelectorAll('g[aria-label]')) {
    group.removeAttribute('aria-label');
  }
  for (const mark of drawing.querySelectorAll('a > [aria-label]')) {
    const label = mark.getAttribute('aria-label');
    mark.removeAttribute('aria-label');
    if (label !== null) mark.parentElement?.setAttribute('aria-label', label);
  }
}

/** Says what a drawing is, and keeps hundreds of marks from being stops of the tab key. */
function nameIt(drawing: Element, name: string): void {
  drawing.setAttribute('role', 'group');
  drawing.setAttribute('aria-label', name);
  const marks = drawing.querySelectorAll('a');
  if (marks.length <= STOPS) return;
  for (const mark of marks) mark.setAttribute('tabindex', '-1');
}
