import { tell, tellProblem, tellUnanswered } from './lib/answer.js';
import { ask } from './lib/api.js';
import { sendsCommand } from './lib/form.js';
import { byId, words } from './lib/page.js';
import { refresh } from './lib/refresh.js';
import { takesScans } from './lib/scan-form.js';
import { startRepair } from './repair-bench/repair.js';

const own = words.repairBench;
const REFRESH_EVERY_MS = 15_000;

interface Repair {
  id: number;
  motor: string;
}

function openRepair({ id }: Repair): void {
  location.assign(`/repair-bench/${id}`);
}

/** Opens the repair of a scanned motor. */
async function find(motor: string): Promise<void> {
  tell({ kind: 'noted', heading: own.looking(motor) });
  const query = new URLSearchParams({ motor, open: 'true' });
  const answer = await ask<{ items: Repair[] }>(`/v1/repairs?${query}`);
  if (answer.kind === 'unanswered') tellUnanswered(answer);
  else if (answer.kind === 'refused') await tellProblem(answer.problem);
  else if (answer.body.items[0]) openRepair(answer.body.items[0]);
  else {
    tell({
      kind: 'caution',
      heading: own.notInRepair,
      body: [own.notInRepairWhy],
      sound: 'waiting',
    });
    byId<HTMLInputElement>('open-motor').value = motor;
  }
}

/** The list of the motors that wait. */
function startList(): void {
  takesScans('motor', find);
  sendsCommand<Repair>(byId<HTMLFormElement>('open-form'), {
    address: '/v1/repairs',
    done: openRepair,
  });
  setInterval(() => {
    // Whoever moves through the list by keyboard keeps the place.
    if (!byId('waiting').contains(document.activeElement)) void refresh(['waiting']);
  }, REFRESH_EVERY_MS);
}

if (document.getElementById('motor-form')) startList();
else startRepair();
