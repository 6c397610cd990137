import { readyToAdd } from './catalogue/add.js';
import { readyToApprove } from './catalogue/approval.js';
import { readyConfiguration } from './catalogue/configuration.js';
import { readySpecification } from './catalogue/specification.js';

/** What a page of the catalogue may hold, by the id of its form. */
const forms: Readonly<Record<string, (form: HTMLFormElement) => void>> = {
  'model-form': readyToAdd,
  'part-form': readyToAdd,
  'approval-form': readyToApprove,
  'configuration-form': readyConfiguration,
  'specification-form': readySpecification,
};

for (const [id, ready] of Object.entries(forms)) {
  const form = document.getElementById(id);
  if (form) ready(form as HTMLFormElement);
}
