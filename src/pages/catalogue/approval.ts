import { html, type Markup } from '../../http/html.js';
import { answerOf } from '../parts.js';
import type { Viewing } from '../screen.js';
import { effectiveField } from './common.js';

interface Draft {
  id: number;
  state: 'draft' | 'approved';
  version: number;
  draftedById: number;
}

/** The second key's part: a form, or why this key cannot be the second. */
export function approvalPanel(
  draft: Draft,
  of: 'configurations' | 'specifications',
  viewing: Viewing,
): Markup | null {
  if (draft.state !== 'draft') return null;
  const words = viewing.words.catalogue;
  return html`<section class="panel" id="approval" aria-labelledby="approval-title"><h2 id="approval-title">${words.approval}</h2><p>${words.approvalLead}</p>${approvalBody(draft, of, viewing)}</section>`;
}

function approvalBody({ id, version, draftedById }: Draft, of: string, viewing: Viewing): Markup {
  const { words: all, actor } = viewing;
  const words = all.catalogue;
  if (!actor.roles.some((role) => role === 'configuration' || role === 'quality')) {
    return html`<p>${words.approvalRole}</p>`;
  }
  if (draftedById === actor.keyId) {
    return answerOf('noted', words.approvalYours, {
      body: html`<p>${words.approvalYoursWhy}</p>`,
    });
  }
  return html`<form id="approval-form" class="fields narrow" data-address="/v1/${of}/${id}/approval" data-version="${version}">${effectiveField('approval-from', viewing, null, words.approveFrom)}<button class="main">${words.approve}</button></form>`;
}
