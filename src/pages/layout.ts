import type { Actor } from '../command.js';
import { html, type Markup, Markup as Raw } from '../http/html.js';
import type { Assets } from './assets.js';
import { iconSprite } from './icons.js';
import { screens } from './routes.js';
import { isOpenTo, type View } from './screen.js';
import type { ScreenName, Words } from './words/words.js';

/** What stands around a view. */
export interface Frame {
  words: Words;
  timeZone: string;
  assets: Assets;
  /** Who is signed in; undefined for nobody. */
  actor?: Actor | undefined;
  /** The screen that is shown: names its script and stylesheet and marks its place. */
  name?: ScreenName;
}

/** A fin on a dark square, for the browser's tab. */
const MARK =
  "data:image/svg+xml,%3Csvg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 16 16'%3E%3Cpath fill='%2314191d' d='M0 0h16v16H0z'/%3E%3Cpath fill='%23fff' d='M3 4h10c-1 4-3 7-5 9-1-3-3-6-5-9z'/%3E%3C/svg%3E";

/** A whole HTML document around a view. */
export function documentOf(frame: Frame, view: View): string {
  const { words, timeZone, actor } = frame;
  return html`<!doctype html>
<html lang="${words.language}" data-time-zone="${timeZone}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<link rel="icon" href="${MARK}">
<title>${view.title} – ${words.product}</title>
${headLinks(frame, view)}
</head>
<body class="${view.wide ? 'wide' : ''}">
${iconSprite()}
<a class="skip" href="#main">${words.skipToMain}</a>
<header class="top">
<span class="product">${words.product}</span>
${actor ? [navigation(frame, actor), signOut(words, actor)] : null}
</header>
<main id="main" tabindex="-1">
<h1>${view.title}</h1>
${view.main}
</main>
<footer class="foot"><p>${words.footer(timeZone)}</p></footer>
${view.data === undefined ? null : dataBlock(view.data)}
</body>
</html>
`.text;
}

/** The stylesheets and scripts of a page; a screen's own are those that bear its name. */
function headLinks({ assets, name }: Frame, { charts }: View): Markup {
  const styles = ['style/base.css', 'style/parts.css', `style/${name}.css`];
  const libraries = charts ? ['library/d3.js', 'library/plot.js'] : [];
  const script = `scripts/${name}.js`;
  return html`${styles.filter(assets.has).map((one) => html`<link rel="stylesheet" href="${assets.address(one)}">\n`)}${libraries.map((one) => html`<script defer src="${assets.address(one)}"></script>\n`)}${assets.has(script) ? html`<script type="module" src="${assets.address(script)}"></script>` : null}`;
}

function navigation({ words, name }: Frame, { roles }: Actor): Markup {
  const items = screens
    .filter((one) => !one.path.includes('{') && isOpenTo(one, roles))
    .map((one) => {
      const current = one.name === name ? html` aria-current="page"` : null;
      return html`<li><a href="${one.path}"${current}>${words.screens[one.name]}</a></li>`;
    });
  return html`<nav aria-label="${words.screensLabel}"><ul>${items}</ul></nav>`;
}

function signOut(words: Words, { name }: Actor): Markup {
  return html`<form class="who" method="post" action="/sign-out"><span>${words.signedInAs(name)}</span> <button class="quiet">${words.signOut}</button></form>`;
}

/** Data that a script reads; `<` is escaped so that no text of it can end the element. */
function dataBlock(data: object): Markup {
  const text = JSON.stringify(data).replaceAll('<', '\\u003c');
  return html`<script type="application/json" id="page-data">${new Raw(text)}</script>`;
}
