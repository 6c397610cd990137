/** The demo's printed summary, taken apart as a reader would. */
export interface Printed {
  set: number;
  refused: number;
  attempts: number;
  refusedBecause: Map<string, number>;
  runs: { all: number; completed: number; aborted: number; open: number };
  failedRuns: number;
  disagreements: number;
  takenOver: number;
  models: {
    model: string;
    firstRuns: number;
    passed: number;
    yieldPercent: number;
    lower: number;
    upper: number;
  }[];
  repairs: number;
  repairOutcomes: Map<string, number>;
  setAgain: number;
  loops: { loops: number; motors: number; passed: number }[];
  released: number;
  states: Map<string, number>;
  held: number;
  holdsLifted: number;
  heldRows: number;
  /** What is printed below the figures: one motor's history. */
  story: string;
}

/** @throws Error when a part of the summary is not there */
export function readSummary(text: string): Printed {
  const [set, refused, attempts] = numbers(text, /set (\d+), refused (\d+) \([\d.]+ % of (\d+)/);
  const [all, completed, aborted, open] = numbers(
    text,
    /runs (\d+): completed (\d+), aborted (\d+), still open (\d+)/,
  );
  const [failedRuns] = numbers(text, /failed (\d+) \(/);
  const [disagreements, takenOver] = numbers(
    text,
    /thought otherwise (\d+), taken over from a dead cell (\d+)/,
  );
  const [repairs] = numbers(text, /repairs (\d+): /);
  const [released] = numbers(text, /released (\d+); motors by state/);
  const [held, holdsLifted] = numbers(text, /held (\d+), holds lifted (\d+)/);
  return {
    set: set ?? 0,
    refused: refused ?? 0,
    attempts: attempts ?? 0,
    refusedBecause: new Map(
      matches(section(text, 'refused because', 'Hot tests'), /^ {2}([a-z-]+) +(\d+) /gm).map(
        ([slug = '', count]) => [slug, Number(count)],
      ),
    ),
    runs: { all: all ?? 0, completed: completed ?? 0, aborted: aborted ?? 0, open: open ?? 0 },
    failedRuns: failedRuns ?? 0,
    disagreements: disagreements ?? 0,
    takenOver: takenOver ?? 0,
    models: matches(
      section(text, 'first-pass yield', 'Repair\n'),
      /^ {2}(\S+) +(\d+) +(\d+) +([\d.]+) % +([\d.]+) % to ([\d.]+) %/gm,
    ).map(([model = '', ...figures]) => {
      const [firstRuns = 0, passed = 0, yieldPercent = 0, lower = 0, upper = 0] =
        figures.map(Number);
      return { model, firstRuns, passed, yieldPercent, lower, upper };
    }),
    repairs: repairs ?? 0,
    repairOutcomes: countsIn(/repairs \d+: (.+)/.exec(text)?.[1] ?? ''),
    setAgain: matches(text, /torn down; its halves were set again as (\S+)/g).length,
    loops: matches(section(text, 'rework loops', 'At the end'), /^ +(\d+) +(\d+) +(\d+)$/gm).map(
      (figures) => {
        const [loops = 0, motors = 0, passedMotors = 0] = figures.map(Number);
        return { loops, motors, passed: passedMotors };
      },
    ),
    released: released ?? 0,
    states: countsIn(section(text, 'motors by state:', ' held ')),
    held: held ?? 0,
    holdsLifted: holdsLifted ?? 0,
    heldRows: matches(
      section(text, 'holds lifted', 'One motor'),
      /^ {2}(?:motor|powerhead|lower-unit) +\S+ +\S+ +\S/gm,
    ).length,
    story: section(text, 'One motor’s history', 'All of this is invented'),
  };
}

function numbers(text: string, form: RegExp): number[] {
  const match = form.exec(text);
  if (!match) throw new Error(`nothing of the form ${form} was printed:\n${text}`);
  return match.slice(1).map(Number);
}

function matches(text: string, form: RegExp): string[][] {
  return [...text.matchAll(form)].map((match) => (match.length > 1 ? match.slice(1) : [match[0]]));
}

function section(text: string, from: string, to: string): string {
  const start = text.indexOf(from);
  const end = text.indexOf(to, start + from.length);
  if (start === -1 || end === -1) throw new Error(`${from} … ${to} was not printed:\n${text}`);
  return text.slice(start + from.length, end);
}

/** `repaired 26, scrapped 1` as a map. */
function countsIn(text: string): Map<string, number> {
  return new Map(
    matches(text, /([a-z][a-z -]*[a-z]) (\d+)/g).map(([name = '', count]) => [name, Number(count)]),
  );
}
