import { z } from 'zod';
import { existingModel } from '../../catalogue/actions.js';
import type { ConfigurationRow, ModelRow } from '../../catalogue/records.js';
import type { SpecificationHead } from '../../catalogue/specification-records.js';
import { html, type Markup } from '../../http/html.js';
import { code, PAGE_LIMIT } from '../../http/shapes.js';
import type { Plant } from '../../plant.js';
import { factsOf, tableOf, timeOf } from '../parts.js';
import { screen, type Viewing } from '../screen.js';
import { attributesOf, modelAddress, wayBack } from './common.js';
import { type Placed, placed, type Span, spanOf, timeLine } from './time-line.js';

export const model = screen({
  name: 'catalogue',
  path: '/catalogue/models/{model}',
  roles: 'any',
  startFor: [],
  params: z.strictObject({ model: code }),
  show: (plant, { params }, viewing) => {
    const row = existingModel(plant, params.model);
    const { words, format } = viewing;
    const facts = factsOf([
      [words.catalogue.name, row.name],
      [words.catalogue.ratedPower, `${format.number(row.ratedPowerKw)}\u00a0kW`],
      [words.catalogue.attributes, attributesOf(viewing, row.attributes) ?? words.none],
    ]);
    return {
      title: words.catalogue.modelTitle(row.code),
      main: html`${wayBack(viewing)}<div class="panel">${facts}</div>
${configurationsPanel(plant, row, viewing)}
${specificationsPanel(plant, row, viewing)}`,
    };
  },
});

function configurationsPanel(plant: Plant, { code: model }: ModelRow, viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  const filter = { code: null, model, state: null, inForceAtMs: null };
  const rows = plant.catalogue.configurations(filter, 0, PAGE_LIMIT);
  const codes = [...new Set(rows.map((row) => row.code))].sort();
  const span = spanOf(rows, viewing.now);
  const mayDraft = viewing.actor.roles.includes('configuration');
  const parts = codes.map((one) =>
    configurationPart(
      plant.catalogue.configurations({ ...filter, code: one, model: null }, 0, PAGE_LIMIT),
      model,
      span,
      viewing,
    ),
  );
  const draft = mayDraft
    ? html`<div class="actions"><a class="action" href="${modelAddress(model)}/configuration">${words.draftConfiguration}</a></div>`
    : null;
  return html`<section class="panel" id="configurations" aria-labelledby="configurations-title"><h2 id="configurations-title">${words.configurations}</h2><p class="soft">${words.configurationsLead}</p>
${codes.length === 0 ? html`<p>${words.noConfigurations}</p>` : html`<p class="soft">${words.line.legend}</p>`}${parts}${draft}</section>`;
}

function configurationPart(
  rows: readonly ConfigurationRow[],
  model: string,
  span: Span,
  viewing: Viewing,
): Markup {
  const words = viewing.words.catalogue;
  const all = placed(rows, viewing.now);
  const [{ code: named } = { code: '' }] = rows;
  const latest = all.findLast(({ row }) => row.state === 'approved') ?? all.at(-1);
  const hasDraft = all.some(({ standing }) => standing === 'draft');
  const mayDraft =
    latest !== undefined && !hasDraft && viewing.actor.roles.includes('configuration');
  const next = `${modelAddress(model)}/configuration?from=${latest?.row.id}`;
  const draft = mayDraft
    ? html`<div class="actions"><a class="action" href="${next}">${words.draftRevision(named)}</a></div>`
    : null;
  return html`<article class="code" id="configuration-${named}"><h3>${named}</h3>${timeLine(all, span, viewing)}${configurationTable(all, named, viewing)}${draft}</article>`;
}

function configurationTable(
  all: readonly Placed<ConfigurationRow>[],
  named: string,
  viewing: Viewing,
): Markup {
  const words = viewing.words.catalogue;
  return tableOf<Placed<ConfigurationRow>>(
    named,
    [
      {
        title: words.revisionOf,
        cell: ({ row }) =>
          html`<a href="/catalogue/configurations/${row.id}">${words.revision(row.revision)}</a>`,
      },
      { title: words.state, cell: ({ standing }) => words.stateOf[standing] },
      ...datesOf<ConfigurationRow>(viewing),
      {
        title: words.powerhead,
        cell: ({ row }) =>
          row.discontinued
            ? words.discontinued
            : words.part(row.powerheadNumber, row.powerheadRevision),
      },
      {
        title: words.lowerUnit,
        cell: ({ row }) =>
          row.discontinued ? null : words.part(row.lowerUnitNumber, row.lowerUnitRevision),
      },
      { title: words.attributes, cell: ({ row }) => attributesOf(viewing, row.attributes) },
      ...keysOf<ConfigurationRow>(viewing),
    ],
    all,
    '',
  );
}

interface Kept {
  id: number;
  revision: number;
  state: 'draft' | 'approved';
  effectiveFromMs: number | null;
  draftedBy: string;
  approvedBy: string | null;
}

function datesOf<R extends Kept>({ words: { catalogue: words }, format }: Viewing) {
  const when = (ms: number | null) => (ms === null ? null : timeOf(format, ms));
  return [
    { title: words.from, cell: ({ row }: Placed<R>) => when(row.effectiveFromMs) },
    { title: words.until, cell: ({ untilMs }: Placed<R>) => when(untilMs) },
  ];
}

function keysOf<R extends Kept>({ words: { catalogue: words } }: Viewing) {
  return [
    { title: words.draftedBy, cell: ({ row }: Placed<R>) => row.draftedBy },
    { title: words.approvedBy, cell: ({ row }: Placed<R>) => row.approvedBy },
  ];
}

function specificationsPanel(plant: Plant, { code: model }: ModelRow, viewing: Viewing): Markup {
  const words = viewing.words.catalogue;
  const rows = plant.specifications.list({ model, state: null }, 0, PAGE_LIMIT);
  const all = placed(rows, viewing.now);
  const hasDraft = rows.some((row) => row.state === 'draft');
  const label = hasDraft
    ? words.editSpecification
    : rows.length === 0
      ? words.draftFirst
      : words.draftSpecification;
  const draft = viewing.actor.roles.includes('quality')
    ? html`<div class="actions"><a class="action" href="${modelAddress(model)}/specification">${label}</a></div>`
    : null;
  const table = tableOf<Placed<SpecificationHead>>(
    words.specifications,
    [
      {
        title: words.revisionOf,
        cell: ({ row }) =>
          html`<a href="/catalogue/specifications/${row.id}">${words.revision(row.revision)}</a>`,
      },
      { title: words.note, cell: ({ row }) => row.note },
      { title: words.state, cell: ({ standing }) => words.stateOf[standing] },
      ...datesOf<SpecificationHead>(viewing),
      ...keysOf<SpecificationHead>(viewing),
    ],
    all,
    words.noSpecifications,
  );
  return html`<section class="panel" id="specifications" aria-labelledby="specifications-title"><h2 id="specifications-title">${words.specifications}</h2>
${rows.length === 0 ? null : timeLine(all, spanOf(rows, viewing.now), viewing)}${table}${draft}</section>`;
}
