const WIDTH = 100;
const GAP = '  ';

/** `HH:MM` in UTC. */
export function clockTime(ms: number): string {
  return new Date(ms).toISOString().slice(11, 16);
}

/** `HH:MM:SS` in UTC, from RFC 3339 text. */
export function timeOf(text: string): string {
  return text.slice(11, 19);
}

export function heading(text: string): string {
  return `\n${text}\n${'─'.repeat(text.length)}`;
}

/** Text broken at blanks to lines no longer than the page, each after the first indented. */
export function wrapped(text: string, indent: number): string {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line !== '' && indent + line.length + 1 + word.length > WIDTH) {
      lines.push(line);
      line = word;
    } else {
      line = line === '' ? word : `${line} ${word}`;
    }
  }
  return [...lines, line].join(`\n${' '.repeat(indent)}`);
}

export interface Column {
  title: string;
  align?: 'right';
}

/** Rows under their titles, in columns as wide as their widest cell; the last one is wrapped. */
export function table(columns: readonly Column[], rows: readonly (readonly string[])[]): string {
  const widths = columns.map(({ title }, i) =>
    Math.max(title.length, ...rows.map((row) => (row[i] ?? '').length)),
  );
  const indent = widths.slice(0, -1).reduce((sum, width) => sum + width + GAP.length, GAP.length);
  const line = (cells: readonly string[]): string => {
    const padded = columns.map(({ align }, i) => {
      const cell = cells[i] ?? '';
      const width = widths[i] ?? 0;
      if (align === 'right') return cell.padStart(width);
      return i === columns.length - 1 ? wrapped(cell, indent) : cell.padEnd(width);
    });
    return `${GAP}${padded.join(GAP)}`.trimEnd();
  };
  return [columns.map((column) => column.title), ...rows].map(line).join('\n');
}

export function percent(share: number | null): string {
  return share === null ? '-' : `${(100 * share).toFixed(1)} %`;
}
