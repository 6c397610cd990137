import { tell } from '../lib/answer.js';
import { format, words } from '../lib/page.js';
import { refresh } from '../lib/refresh.js';
import { effectiveFrom } from './fields.js';
import { sendsDraft } from './send.js';

const own = words.catalogue;

/** Makes the form approve the version of the draft that the page shows. */
export function readyToApprove(form: HTMLFormElement): void {
  sendsDraft<{ effectiveFrom: string }>(form, () => ({
    address: form.dataset.address ?? '',
    body: () => ({
      version: Number(form.dataset.version),
      effectiveFrom: effectiveFrom(new FormData(form)),
    }),
    done: async (approved) => {
      tell({
        kind: 'accepted',
        heading: own.approved,
        body: [own.approvedFrom(format.dateTime(Date.parse(approved.effectiveFrom)))],
        sound: 'accepted',
      });
      // An approved draft has neither an approval nor an edit to come.
      document.querySelector('section:has(#configuration-form)')?.remove();
      await refresh(['of-configuration', 'of-specification']);
    },
  }));
}
