import { tell } from '../lib/answer.js';
import { filledFields, sendsCommand } from '../lib/form.js';
import { byId, pageData, words } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';
import { drawAttempts } from './attempts.js';
import { startExchange } from './exchange.js';
import type { RepairData } from './part.js';

const own = words.repairBench;

/** The page of one repair: its charts, and what may be done where the forms for it are there. */
export function startRepair(): void {
  const { repair, motor, charts } = pageData<RepairData>();
  const history = `/history?${new URLSearchParams({ serial: motor, class: 'motor' })}`;
  for (const one of charts) drawAttempts(one, history);
  if (document.getElementById('exchange-form')) startExchange(repair);
  if (document.getElementById('close-form')) {
    sendsCommand(byId<HTMLFormElement>('close-form'), {
      address: `/v1/repairs/${repair}/closure`,
      body: closureOf,
      done: () => tellEnded(own.isClosed(repair)),
    });
  }
  startRetest(motor);
}

/** The note is one line of text for the record, however it was typed. */
function closureOf(fields: FormData): unknown {
  const { note, ...codes } = filledFields(fields);
  return note === undefined ? codes : { ...codes, note: String(note).replaceAll(/\s+/g, ' ') };
}

/** The form for it goes away once a part was exchanged, so the page listens for it. */
function startRetest(motor: string): void {
  const form = document.getElementById('retest-form');
  if (!(form instanceof HTMLFormElement)) return;
  sendsCommand(form, {
    address: '/v1/retests',
    body: (fields) => ({ ...filledFields(fields), motor }),
    done: () => tellEnded(own.retestDone),
  });
}

async function tellEnded(heading: string): Promise<void> {
  await refresh(['bench-caution', 'head', 'work']);
  byId('main').focus();
  tell({ kind: 'accepted', heading, body: [own.next['awaiting-test']], sound: 'accepted' });
}
