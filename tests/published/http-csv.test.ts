/**
 * CSV as RFC 4180 describes it (section 2, read for these tests), and cells that a
 * spreadsheet would run: the OWASP Application Security Verification Standard 5.0,
 * requirement 1.2.10, names the first characters = + - @, tab and NUL, to be escaped by
 * a single quotation mark.
 */
import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { csvCell, csvTable } from '../../src/http/csv.js';
import { readCsv } from '../../src/http/csv-import.js';

const columns = ['a', 'b'];
const table = (...rows: [unknown, unknown][]) =>
  csvTable(
    columns,
    rows.map(([a, b]) => ({ a, b })),
  );

describe('RFC 4180, section 2', () => {
  it('rules 1 and 3: lines end with CRLF, and the first names the columns', () => {
    expect(table(['x', 'y'])).toBe('a,b\r\nx,y\r\n');
  });

  it('rule 4: blanks are part of a field', () => {
    expect(table([' x', 'y '])).toBe('a,b\r\n x,y \r\n');
  });

  it('rule 6: a field with a comma, a line end or a quotation mark is quoted', () => {
    expect(table(['x,y', 'two\r\nlines'])).toBe('a,b\r\n"x,y","two\r\nlines"\r\n');
  });

  it('rule 7: a quotation mark within is doubled', () => {
    expect(table(['10" prop', '"'])).toBe('a,b\r\n"10"" prop",""""\r\n');
  });

  it('a missing value is an empty field; a record within is quoted JSON', () => {
    expect(table([null, { x: 1 }], [undefined, false])).toBe('a,b\r\n,"{""x"":1}"\r\n,false\r\n');
  });
});

describe('cells that would run as formulas', () => {
  it.each(['=', '+', '-', '@', '\t', '\0', '\r'])(
    'are defused where they begin with %j',
    (sign) => {
      expect(csvCell(`${sign}1+1`)).toBe(`'${sign}1+1`);
    },
  );

  it('are defused where a reader that takes one mark off would bring a formula out', () => {
    expect(csvCell("'=1+1")).toBe("''=1+1");
  });

  it('leave numbers and other text alone', () => {
    expect(csvCell(-1.5)).toBe('-1.5');
    expect(csvCell('a=b')).toBe('a=b');
    expect(csvCell("'quoted'")).toBe("'quoted'");
  });

  it('come back as they were, from any text', () => {
    const text = fc.oneof(
      fc.string({ unit: fc.constantFrom("'", '=', '+', '-', '@', '\t', '"', ',', ' ', 'x', '\n') }),
      fc.string({ unit: 'binary' }),
    );
    fc.assert(
      fc.property(text, text, (a, b) => {
        // A line with two empty cells is still a line; a byte order mark begins a file, not a cell.
        const [line] = readCsv(csvTable(columns, [{ a, b }]), columns, []);
        expect(line?.cells).toEqual({ a, b });
      }),
      { numRuns: 500 },
    );
  });
});
