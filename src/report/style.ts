import { createHash } from 'node:crypto';

export type Paper = 'a4' | 'letter';

const SHEET = `
:root{color-scheme:light dark;--ink:#171c21;--soft:#47525c;--ground:#fff;--rule:#7d8790;--bad:#8c1414}
*{box-sizing:border-box}
body{margin:0 auto;padding:1.25rem;max-width:72rem;font:1rem/1.45 system-ui,-apple-system,"Liberation Sans",Arial,sans-serif;color:var(--ink);background:var(--ground);overflow-wrap:break-word}
h1{font-size:1.6rem;line-height:1.2;margin:0 0 .25rem}
h2{font-size:1.2rem;margin:2.25rem 0 .5rem;padding-bottom:.2rem;border-bottom:2px solid var(--ink)}
h3{font-size:1.02rem;margin:1.5rem 0 .4rem}
p{margin:.4rem 0;max-width:46rem}
.lead,.none,.code,caption,dt{color:var(--soft)}
.lead{margin-bottom:1.25rem}
.whole{white-space:nowrap}
.code{font-size:.85em;font-weight:400}
.note{border-left:.3rem solid var(--ink);padding:.1rem 0 .1rem .8rem;margin:.8rem 0}
.bad{font-weight:700;color:var(--bad)}
.this{font-weight:700}
dl{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(15rem,100%),1fr));gap:.55rem 1.5rem;margin:.6rem 0}
dt{font-size:.85rem}
dd{margin:0}
table{border-collapse:collapse;width:100%;margin:.8rem 0 1.2rem;font-size:.9rem;font-variant-numeric:tabular-nums}
caption{text-align:left;padding-bottom:.3rem;font-size:.85rem}
th,td{text-align:left;vertical-align:top;padding:.3rem .7rem .3rem 0;border-bottom:1px solid var(--rule)}
th:last-child,td:last-child{padding-right:0}
thead th{border-bottom:2px solid var(--ink);vertical-align:bottom}
tbody th{font-weight:400}
.long,dd,p{overflow-wrap:anywhere}
.number{text-align:right;white-space:nowrap}
.wide{width:36%}
.d1{padding-left:1rem}.d2{padding-left:2rem}.d3{padding-left:3rem}.d4{padding-left:4rem}
.d5{padding-left:5rem}.d6{padding-left:6rem}.d7{padding-left:7rem}.d8{padding-left:8rem}
.gauge{display:block;overflow:visible;fill:none;stroke:var(--ink)}
.gauge .scale{stroke-width:1}
.gauge .zone{stroke:var(--rule);stroke-width:6}
.gauge .limit{stroke-width:2.5}
.gauge .accepted{stroke-width:1.5;stroke-dasharray:3 2}
.gauge .dot{fill:var(--ink);stroke:var(--ground);stroke-width:1.5}
.gauge .halo{stroke:var(--ground);stroke-width:6}
.gauge .cross{stroke-width:3}
.gauge .beyond{fill:var(--ink);stroke:none}
footer{margin-top:2.5rem;border-top:2px solid var(--ink);padding-top:.6rem;font-size:.9rem}
code{font-family:ui-monospace,"Liberation Mono",monospace;font-size:.95em}
@media screen and (prefers-color-scheme:dark){:root{--ink:#e9edf0;--soft:#b4bec7;--ground:#13171b;--rule:#7f8a94;--bad:#ffb1a8}}
@media screen and (max-width:60rem){
body{padding:.9rem}
table,tbody,tr,th,td,caption{display:block;width:100%}
thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
tr{padding:.5rem .6rem;margin-bottom:.6rem;border:1px solid var(--rule)}
th,td,th:last-child,td:last-child{border:0;padding:.12rem 0;display:grid;grid-template-columns:6.5rem minmax(0,1fr);gap:.6rem;text-align:left}
tbody th{font-weight:700}
th::before,td::before{content:attr(data-label);color:var(--soft);font-size:.85rem;font-weight:400}
td:has(>div:empty){display:none}
.gauge{max-width:100%;height:auto}
.d1,.d2,.d3,.d4,.d5,.d6,.d7,.d8{padding-left:0}
}
@media print{
:root{color-scheme:light;--ink:#000;--soft:#333;--rule:#777;--bad:#000}
body{padding:0;max-width:none;font-size:9.5pt;line-height:1.35}
h1{font-size:16pt}h2{font-size:12.5pt;margin-top:14pt}h3{font-size:10.5pt;margin:10pt 0 3pt}
p{max-width:none}
table{font-size:8.5pt;margin:4pt 0 8pt}
caption,dt{font-size:8pt}
thead{display:table-header-group;break-after:avoid}
tbody tr:first-child{break-before:avoid}
dl{grid-template-columns:repeat(auto-fill,minmax(40mm,1fr));gap:3pt 12pt}
tr,dl>div,.ahead,.note,footer{break-inside:avoid}
h1,h2,h3,caption,.ahead{break-after:avoid}
p{orphans:3;widows:3}
.gauge{width:30mm;height:auto}
}
`;

/** Text as a CSS string: all but plain letters, digits and blanks as escapes. */
export function cssString(text: string): string {
  const escaped = [...text].map((sign) =>
    /[A-Za-z0-9 .,:+-]/.test(sign) ? sign : `\\${(sign.codePointAt(0) ?? 0).toString(16)} `,
  );
  return `"${escaped.join('')}"`;
}

/**
 * The style of one report.
 * @param running what stands at the foot of each printed sheet beside its number
 * @param paper the sheet's size; the reader's own choice where left out
 */
export function styleOf(running: string, paper?: Paper): string {
  const size = paper === undefined ? '' : `size:${paper === 'a4' ? 'A4' : 'letter'};`;
  const foot = 'font:8pt system-ui,"Liberation Sans",Arial,sans-serif;color:#333';
  return `${SHEET}@page{${size}margin:16mm 14mm 18mm;@bottom-left{${foot};content:${cssString(running)}}@bottom-right{${foot};content:"Page " counter(page) " of " counter(pages)}}
`;
}

/**
 * The Content-Security-Policy under which a report shows: this one style, and nothing
 * else at all (CSP level 3, a hash source).
 */
export function policyFor(style: string): string {
  const hash = createHash('sha256').update(style).digest('base64');
  return `default-src 'none'; style-src 'sha256-${hash}'; base-uri 'none'; form-action 'none'`;
}
