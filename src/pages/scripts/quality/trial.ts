import { element } from '../lib/dom.js';
import { format, words } from '../lib/page.js';
import { sideBySide } from './drawings.js';
import type { Panel } from './panel.js';
import { behind, figure, interval, linked, percent, tableOf } from './table.js';

const own = words.quality.trial;
const { columns } = words.quality;

interface Counted {
  runs: number;
  link: string;
}
interface Limits {
  unit: string | null;
  lower: number | null;
  upper: number | null;
  expected: boolean | null;
}
interface Yield {
  firstPasses: number;
  firstPassYield: number | null;
  lower: number | null;
  upper: number | null;
  link: string;
}
interface Errors {
  falseAccepts: number;
  falseRejects: number;
}
interface Risk {
  expectedFalseAccepts: number | null;
  expectedFalseRejects: number | null;
}
interface Characteristic {
  code: string;
  name: string;
  change: keyof typeof own.change;
  trial: Limits | null;
  past: { revision: number; limits: Limits | null }[];
  passToFail: Counted;
  failToPass: Counted;
  risks: { standardUncertainty: number | null; unit: string | null; recorded: Risk; trial: Risk };
}
interface Trial {
  lookedAt: Counted;
  notJudgeable: Counted & { characteristics: (Counted & { code: string })[] };
  verdicts: Record<'passToPass' | 'passToFail' | 'failToPass' | 'failToFail', Counted>;
  firstPass: { firstRuns: number; link: string; recorded: Yield; trial: Yield };
  expectedErrors: {
    recorded: Errors | null;
    trial: Errors | null;
    takenAsExact: string[];
    reason: string | null;
  };
  characteristics: Characteristic[];
}

/** What a specification would have said of past runs, beside what was recorded. */
export function showTrial(answer: Trial, panel: Panel): void {
  const { lookedAt, notJudgeable, firstPass, expectedErrors, characteristics } = answer;
  panel.say(
    element(
      'p',
      {},
      linked(own.lookedAt(lookedAt.runs), lookedAt.link),
      '. ',
      ...unjudged(notJudgeable),
    ),
    element('h3', {}, own.verdicts),
    verdictTable(answer),
    element('h3', {}, own.errors),
    ...errorTable(expectedErrors),
    element('h3', {}, own.characteristics),
    characteristicTable(characteristics),
    element('h3', {}, own.risks),
    riskTable(characteristics),
  );
  const sides = (['recorded', 'trial'] as const).map((side) => ({ side, ...firstPass[side] }));
  const dots = sides.map(({ side, firstPassYield: value, lower, upper, firstPasses, link }) => ({
    name: own[side],
    value,
    lower,
    upper,
    href: behind(link),
    title: own.yieldPoint(own[side], percent(value), firstPasses, firstPass.firstRuns),
  }));
  if (firstPass.firstRuns === 0) panel.omit(0);
  else panel.draw(0, sideBySide({ dots, label: columns.firstPassYield }));
  panel.table(
    tableOf(
      own.yieldChart,
      [
        { title: columns.firstPassYield, cell: ({ side }) => own[side] },
        {
          title: columns.firstPasses,
          isNumber: true,
          cell: (one) => linked(one.firstPasses, one.link),
        },
        {
          title: columns.firstRuns,
          isNumber: true,
          cell: () => linked(firstPass.firstRuns, firstPass.link),
        },
        { title: columns.share, isNumber: true, cell: (one) => percent(one.firstPassYield) },
        { title: columns.interval, isNumber: true, cell: (one) => interval(one.lower, one.upper) },
      ],
      sides,
    ),
  );
}

function unjudged({ runs, link, characteristics }: Trial['notJudgeable']) {
  if (runs === 0) return [];
  const codes = characteristics.map((one) => `${one.code} ${one.runs}`).join(', ');
  return [linked(own.notJudgeable(runs), link), ` (${codes}).`];
}

function verdictTable({
  verdicts: { passToPass, passToFail, failToPass, failToFail },
}: Trial): HTMLElement {
  const rows = [
    { name: own.pass, pass: passToPass, fail: passToFail },
    { name: own.fail, pass: failToPass, fail: failToFail },
  ];
  const cell = ({ runs, link }: Counted) => linked(runs, runs > 0 ? link : null);
  return tableOf(
    own.verdicts,
    [
      { title: own.recordedAs, cell: (one) => one.name },
      { title: own.passTrial, isNumber: true, cell: (one) => cell(one.pass) },
      { title: own.failTrial, isNumber: true, cell: (one) => cell(one.fail) },
    ],
    rows,
  );
}

function errorTable({
  recorded,
  trial,
  takenAsExact,
  reason,
}: Trial['expectedErrors']): HTMLElement[] {
  const rows = (['falseAccepts', 'falseRejects'] as const).map((name) => ({
    name: own[name],
    recorded: recorded?.[name] ?? null,
    trial: trial?.[name] ?? null,
  }));
  const table = tableOf(
    own.errors,
    [
      { title: own.errors, cell: (one) => one.name },
      { title: own.recorded, isNumber: true, cell: (one) => figure(one.recorded, 2) },
      { title: own.trial, isNumber: true, cell: (one) => figure(one.trial, 2) },
    ],
    rows,
  );
  const exact =
    takenAsExact.length === 0
      ? null
      : element('p', { class: 'soft' }, own.exact(takenAsExact.join(', ')));
  return [reason === null ? table : element('p', {}, reason), exact].filter((one) => one !== null);
}

function limitsText(limits: Limits | null): string {
  if (limits === null) return '–';
  if (limits.expected !== null) return own.expectedAnswer[`${limits.expected}`];
  const end = (value: number | null) => (value === null ? own.open : format.number(value));
  return own.limitsOf(end(limits.lower), end(limits.upper), limits.unit ?? '');
}

function characteristicTable(all: readonly Characteristic[]): HTMLElement {
  const cause = ({ runs, link }: Counted) => linked(runs, runs > 0 ? link : null);
  return tableOf<Characteristic>(
    own.characteristics,
    [
      { title: columns.characteristic, cell: (one) => one.name },
      {
        title: columns.change,
        cell: (one) =>
          one.change === 'same' ? own.change.same : element('strong', {}, own.change[one.change]),
      },
      {
        title: columns.past,
        cell: (one) =>
          one.past.map(({ revision, limits }) => `${revision}: ${limitsText(limits)}`).join('; ') ||
          '–',
      },
      { title: columns.trial, cell: (one) => limitsText(one.trial) },
      { title: own.passToFail, isNumber: true, cell: (one) => cause(one.passToFail) },
      { title: own.failToPass, isNumber: true, cell: (one) => cause(one.failToPass) },
    ],
    all,
  );
}

function riskTable(all: readonly Characteristic[]): HTMLElement {
  const measured = all.filter((one) => one.risks.standardUncertainty !== null);
  return tableOf<Characteristic>(
    own.risks,
    [
      { title: columns.characteristic, cell: (one) => one.name },
      {
        title: own.uncertainty,
        isNumber: true,
        cell: ({ risks }) => `${figure(risks.standardUncertainty)} ${risks.unit ?? ''}`,
      },
      {
        title: own.acceptsRecorded,
        isNumber: true,
        cell: ({ risks }) => figure(risks.recorded.expectedFalseAccepts, 2),
      },
      {
        title: own.acceptsTrial,
        isNumber: true,
        cell: ({ risks }) => figure(risks.trial.expectedFalseAccepts, 2),
      },
      {
        title: own.rejectsRecorded,
        isNumber: true,
        cell: ({ risks }) => figure(risks.recorded.expectedFalseRejects, 2),
      },
      {
        title: own.rejectsTrial,
        isNumber: true,
        cell: ({ risks }) => figure(risks.trial.expectedFalseRejects, 2),
      },
    ],
    measured,
  );
}
