import { tell, tellProblem, tellUnanswered } from '../lib/answer.js';
import { command } from '../lib/api.js';
import { element } from '../lib/dom.js';
import { sendsCommand } from '../lib/form.js';
import { byId, words } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';

interface Choices {
  unit: { class: string; serial: string };
  lots: { part: string; revision: string; lot: string }[];
  runs: { cell: string; startedAt: string; endedAt: string }[];
}

interface Containment {
  id: number;
  units: number;
  held: number;
}

const HOUR_MS = 60 * 60 * 1000;
const own = words.history;

/** Makes the form ask how many units a question picks, and open a containment with it. */
export function readyToContain(form: HTMLFormElement): void {
  const choices = JSON.parse(form.dataset.choices ?? '{}') as Choices;
  const where = (fields: FormData) => conditionOf(choices, fields);
  byId('contain-count').addEventListener('click', () => void count(where(new FormData(form))));
  sendsCommand<Containment>(form, {
    address: '/v1/containments',
    body: (fields) => ({ title: String(fields.get('title') ?? '').trim(), where: where(fields) }),
    done: async (containment) => {
      tellOpened(containment);
      byId<HTMLInputElement>('contain-title').value = '';
      await refresh(['record']);
    },
  });
}

/** The question of a choice, in the form of /v1/where-used. */
function conditionOf({ unit, lots, runs }: Choices, fields: FormData): object {
  const what = fields.get('what');
  const lot = lots[Number(fields.get('lot'))];
  const run = runs[Number(fields.get('run'))];
  if (what === 'lot' && lot) return { lot };
  if (what === 'cell' && run) {
    const around = Number(fields.get('hours')) * HOUR_MS;
    const from = new Date(Date.parse(run.startedAt) - around).toISOString();
    const until = new Date(Date.parse(run.endedAt) + around).toISOString();
    return { cell: { name: run.cell, from, until } };
  }
  return { serials: { class: unit.class, serials: [unit.serial] } };
}

async function count(where: object): Promise<void> {
  const answer = await command<{ items: unknown[]; counts: Record<string, number> }>(
    '/v1/where-used',
    { where },
  );
  if (answer.kind === 'refused') await tellProblem(answer.problem);
  else if (answer.kind === 'unanswered') tellUnanswered(answer);
  else {
    const { items, counts } = answer.body;
    const lines = Object.entries(counts).map(([state, units]) => own.countedBy(state, units));
    tell({ kind: 'noted', heading: own.counted(items.length), body: [lines.join(', ')] });
  }
}

function tellOpened({ id, units, held }: Containment): void {
  const out = units - held;
  tell({
    kind: 'accepted',
    heading: own.contained(id),
    body: [
      own.containedUnits(units, held),
      out > 0 ? element('p', {}, own.containedOut(out)) : null,
    ],
    sound: 'accepted',
  });
}
