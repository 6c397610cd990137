import { describe, expect, it } from 'vitest';
import { escapeText, html, Markup } from '../../src/http/html.js';
import { gauge } from '../../src/report/gauge.js';
import { cssString } from '../../src/report/style.js';
import { inwardLimit, quantityText, rangeText, valueText } from '../../src/report/words.js';

describe('the html template', () => {
  it('escapes a value in an element, so that it stays text', () => {
    expect(html`<p>${'<script>alert(1)</script> & co'}</p>`.text).toBe(
      '<p>&lt;script&gt;alert(1)&lt;/script&gt; &amp; co</p>',
    );
  });

  it('escapes both kinds of quotes and the backtick, so that a value stays in its attribute', () => {
    const value = `" onload='x' \``;
    expect(html`<i title="${value}">`.text).toBe('<i title="&quot; onload=&#39;x&#39; &#96;">');
    expect(html`<i title='${value}'>`.text).toBe("<i title='&quot; onload=&#39;x&#39; &#96;'>");
  });

  it('refuses a value in an attribute without quotes, which escaping could not hold', () => {
    expect(() => html`<i title=${'x onload=y'}>`).toThrow('needs quotes');
  });

  it('takes markup as it is, lists in their order, and leaves out what is not there', () => {
    const inner = html`<b>${'&'}</b>`;
    expect(html`<p>${[inner, ' and ', 'a<b', 7]}${null}${undefined}</p>`.text).toBe(
      '<p><b>&amp;</b> and a&lt;b7</p>',
    );
  });

  it('never escapes twice nor takes an object for markup that only looks like it', () => {
    const fake = { text: '<b>' } as unknown as Markup;
    expect(() => html`${fake}`).toThrow();
    expect(html`${new Markup('&amp;')}`.text).toBe('&amp;');
  });

  it('replaces control characters, which HTML forbids, but for tab and line ends', () => {
    expect(escapeText('a\u0000b\u001dc\u009fd\te\nf')).toBe('a\ufffdb\ufffdc\ufffdd\te\nf');
  });
});

describe('text in a style', () => {
  it('ends neither the string nor the style element', () => {
    expect(cssString('a"b\\c</style>\n')).toBe('"a\\22 b\\5c c\\3c \\2f style\\3e \\a "');
  });
});

describe('a value as it is shown', () => {
  const accepted = { lower: 55, upper: 145 };

  it('is rounded to its decimals, where that tells the truth', () => {
    expect(valueText(99.97, 1, accepted)).toBe('100.0');
    expect(valueText(-0.04, 1, { lower: null, upper: null })).toBe('0.0');
  });

  it('keeps all its digits where rounding would carry it across an acceptance limit', () => {
    expect(valueText(54.96, 1, accepted)).toBe('54.96');
    expect(valueText(145.04, 1, accepted)).toBe('145.04');
    expect(valueText(54.94, 1, accepted)).toBe('54.9');
  });

  it('has acceptance limits rounded into the zone, so that none is shown too wide', () => {
    expect(inwardLimit(285.97382435, 1, 'lower')).toBe(285.974);
    expect(inwardLimit(314.02617564, 1, 'upper')).toBe(314.026);
    expect(inwardLimit(0.29, 0, 'upper')).toBe(0.29);
    expect(inwardLimit(null, 1, 'lower')).toBeNull();
  });

  it('names limits in words, with the unit as people read it', () => {
    expect(rangeText({ lower: 50, upper: 150 }, 'kPa')).toBe('50 to 150\u00a0kPa');
    expect(rangeText({ lower: 5, upper: null }, 'Cel')).toBe('at least 5\u00a0°C');
    expect(rangeText({ lower: null, upper: 8 }, null)).toBe('at most 8');
    expect(rangeText({ lower: null, upper: null }, 'kPa')).toBe('no limits');
  });

  it('has the degree of an angle right behind the number (SI Brochure, 9th edition, 5.4.3)', () => {
    expect(quantityText(90, 'deg')).toBe('90°');
  });
});

describe('the drawing of a reading', () => {
  const limits = { lower: 50, upper: 150, acceptLower: 55, acceptUpper: 145 };
  const drawn = (value: number, conforms: boolean) =>
    gauge({ ...limits, value, conforms })?.text ?? '';

  it('tells by shape alone whether a value conforms', () => {
    expect(drawn(100, true)).toContain('<circle class="dot"');
    expect(drawn(100, true)).not.toContain('class="cross"');
    expect(drawn(52, false)).toContain('class="cross"');
    expect(drawn(52, false)).not.toContain('<circle');
  });

  it('has the middle of the limits in the middle, and the strokes at equal distances', () => {
    const text = drawn(100, true);
    expect(text).toContain('cx="80"');
    // 160 wide, 8 left at each end; limits at 0.4/1.8 and 1.4/1.8 of the 144 between.
    expect(text).toContain('M40 3V25');
    expect(text).toContain('M120 3V25');
  });

  it('has dashed strokes for acceptance limits only where a guard band sets them apart', () => {
    expect(drawn(100, true).match(/class="accepted"/g)).toHaveLength(2);
    const plain = gauge({
      ...limits,
      acceptLower: 50,
      acceptUpper: 150,
      value: 100,
      conforms: true,
    });
    expect(plain?.text).not.toContain('class="accepted"');
  });

  it('points beyond the edge for a value off the scale, however far', () => {
    for (const value of [-1e300, 4, 196, 1e300]) {
      const text = drawn(value, false);
      expect(text).toContain('class="beyond"');
      expect(text).not.toMatch(/NaN|Infinity/);
    }
    expect(drawn(52, false)).not.toContain('class="beyond"');
  });

  it('is drawn with one limit, with equal limits and with limits at 0, and not without any', () => {
    const none = { lower: null, upper: null, acceptLower: null, acceptUpper: null };
    expect(gauge({ ...none, value: 1, conforms: null })).toBeNull();
    for (const some of [
      { ...none, upper: 0, acceptUpper: 0 },
      { ...none, lower: 9.6, acceptLower: 9.65 },
      { lower: 0, upper: 0, acceptLower: 0, acceptUpper: 0 },
    ]) {
      const text = gauge({ ...some, value: 0, conforms: true })?.text;
      expect(text).toContain('<circle');
      expect(text).not.toMatch(/NaN|Infinity/);
    }
  });
});
