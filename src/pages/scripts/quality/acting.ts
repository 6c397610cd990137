import { tell } from '../lib/answer.js';
import { element } from '../lib/dom.js';
import { filledFields, sendsCommand } from '../lib/form.js';
import { byId, words } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';

const own = words.quality.charts;
const byCharacteristic = new Set(['individuals', 'xbar-r', 'xbar-s', 'ewma', 'cusum']);
const bySubgroup = new Set(['xbar-r', 'xbar-s']);
const byRules = new Set(['individuals', 'xbar-r', 'xbar-s', 'p', 'u']);

const formOf = (id: string) => document.getElementById(id) as HTMLFormElement | null;

/** The forms of a chart's page: acknowledge, new limits, retire. */
export function actOnChart(chart: number): void {
  sendAcknowledgements();
  const baseline = formOf('baseline-form');
  if (baseline) {
    sendsCommand<{ baseline: number }>(baseline, {
      address: `/v1/charts/${chart}/baseline`,
      body: (fields) => ({
        baseline: { last: Number(fields.get('last')) },
        reason: reasonIn(fields),
      }),
      done: (body) => leaveFor(own.baselineFrozen(body.baseline), `/quality/charts/${chart}`),
    });
  }
  const retire = formOf('retire-form');
  if (retire) {
    sendsCommand(retire, {
      address: `/v1/charts/${chart}/retirement`,
      body: (fields) => ({ reason: reasonIn(fields) }),
      done: () => leaveFor(own.retiredNow, `/quality/charts/${chart}`),
    });
  }
}

function sendAcknowledgements(): void {
  const form = formOf('acknowledge-form');
  if (!form) return;
  sendsCommand<{ acknowledged: number[] }>(form, {
    address: () => `/v1/signals/${new FormData(form).get('signal')}/acknowledgement`,
    body: (fields) => ({
      reason: reasonIn(fields),
      withEarlier: fields.get('withEarlier') === 'on',
    }),
    done: async ({ acknowledged }) => {
      await refresh(['facts', 'signals']);
      // The form came anew with its region.
      sendAcknowledgements();
      tell({ kind: 'accepted', heading: own.acknowledged(acknowledged), sound: 'accepted' });
    },
  });
}

function reasonIn(fields: FormData): string {
  return String(fields.get('reason') ?? '').trim();
}

/** Says what was done, with the way to the page as it is now. */
function leaveFor(heading: string, href: string): void {
  const link = element('p', {}, element('a', { href, class: 'action' }, own.toChart));
  tell({ kind: 'accepted', heading, body: [link], sound: 'accepted' });
}

/** The form that opens a chart, which sends what its kind takes. */
export function openCharts(): void {
  const form = formOf('open-form');
  if (!form) return;
  const kind = byId<HTMLSelectElement>('open-kind');
  const offer = () => {
    enable('open-characteristic', byCharacteristic.has(kind.value));
    enable('open-subgroup', bySubgroup.has(kind.value));
    enable('open-rules', byRules.has(kind.value));
  };
  kind.addEventListener('change', offer);
  offer();
  sendsCommand<{ id: number }>(form, {
    address: '/v1/charts',
    body: (fields) => {
      const { last, subgroupSize, rules, ...rest } = filledFields(fields);
      return {
        ...rest,
        baseline: { last: Number(last) },
        ...(subgroupSize === undefined ? {} : { subgroupSize: Number(subgroupSize) }),
        ...(rules === undefined ? {} : { rules: rules === 'beyond-three-sigma' ? [rules] : rules }),
      };
    },
    done: async ({ id }) => {
      await refresh(['charts', 'open-signals']);
      leaveFor(own.opened(id), `/quality/charts/${id}`);
    },
  });
}

function enable(id: string, on: boolean): void {
  byId<HTMLInputElement>(id).disabled = !on;
}
