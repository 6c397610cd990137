import type { z } from 'zod';
import { existingSpecification } from '../catalogue/specification-actions.js';
import { html, type Markup } from '../http/html.js';
import type { Plant } from '../plant.js';
import { inwardLimit, symbolOf } from '../report/words.js';
import { judgementsOf } from '../testing/present.js';
import type { RunRow } from '../testing/records.js';
import type { Characteristic } from '../testing/rules.js';
import type { judgementShape } from '../testing/schema.js';
import type { Format } from './format.js';
import { type IconName, icon } from './icons.js';
import { type GaugeValue, gaugeLine } from './parts-gauge.js';
import type { Viewing } from './screen.js';
import type { Words } from './words/words.js';

type Judgement = z.input<typeof judgementShape>;

/** A characteristic with its limits and what was read of it, if anything was. */
export interface ReadingShown extends Omit<GaugeValue, 'value'> {
  code: string;
  name: string;
  /** UCUM code. */
  unit: string | null;
  decimals: number;
  required: boolean;
  value: number | boolean | null;
  /** The answer that conforms, of an attribute. */
  expected: boolean | null;
}

export type ReadingState = keyof Words['reading']['state'];

/** Joins what a specification says of a characteristic with how its value was judged. */
function readingShown(c: Characteristic, judgement: Judgement): ReadingShown {
  const { code, name, value, unit, conforms, lower, upper, acceptLower, acceptUpper } = judgement;
  const isAttribute = c.kind === 'attribute';
  return {
    ...{ code, name, value, unit, conforms, lower, upper, acceptLower, acceptUpper },
    nominal: isAttribute ? null : c.nominal,
    decimals: isAttribute ? 0 : c.decimals,
    required: c.required,
    expected: isAttribute ? c.expected : null,
  };
}

/** What a run read, beside the limits that it was judged by; none where it has no verdict. */
export function readingsOfRun(plant: Plant, run: RunRow): ReadingShown[] {
  const { characteristics } = existingSpecification(plant, run.specificationId);
  return readingsShown(characteristics, judgementsOf(plant, run));
}

/** Characteristics with their judgements, both in the specification's order. */
export function readingsShown(
  characteristics: readonly Characteristic[],
  judgements: readonly Judgement[],
): ReadingShown[] {
  return characteristics.flatMap((one, i) => {
    const judgement = judgements[i];
    return judgement ? [readingShown(one, judgement)] : [];
  });
}

/** How a reading stands: what its colour, shape and words say. */
export function stateOf(reading: ReadingShown): ReadingState {
  const { value, conforms, required, lower, upper } = reading;
  if (value === null) return required ? 'waiting' : 'optional';
  if (conforms === null) return 'unlimited';
  if (conforms) return 'accepted';
  if (typeof value === 'boolean') return 'unexpected';
  if (lower !== null && value < lower) return 'below';
  return upper !== null && value > upper ? 'above' : 'guard-band';
}

const icons: Readonly<Record<ReadingState, IconName>> = {
  waiting: 'waiting',
  optional: 'waiting',
  accepted: 'accepted',
  'guard-band': 'refused',
  below: 'refused',
  above: 'refused',
  unexpected: 'refused',
  unlimited: 'noted',
};

/** One reading as an item of `readingList`: name, value, gauge line, state and limits in words. */
function readingItem(reading: ReadingShown, { words, format }: Viewing): Markup {
  const state = stateOf(reading);
  const value = valueShown(reading, words, format);
  return html`<li class="reading ${state}"><span class="name">${reading.name}</span> <span class="value">${value}</span> ${gaugeLine(numeric(reading))} <span class="state">${icon(icons[state])} ${words.reading.state[state]}</span> <span class="limits">${limitsShown(reading, words, format)}</span></li>`;
}

/** Readings below each other, each with its limits drawn and in words. */
export function readingList(readings: readonly ReadingShown[], viewing: Viewing): Markup {
  return html`<ul class="readings">${readings.map((one) => readingItem(one, viewing))}</ul>`;
}

/** How a reading stands in one line of words, for where it is typed. */
export function readingInWords(reading: ReadingShown, words: Words, format: Format): string {
  const parts = [
    valueShown(reading, words, format),
    words.reading.state[stateOf(reading)],
    limitsShown(reading, words, format),
  ];
  return parts.filter((one) => one !== '').join('; ');
}

function numeric(reading: ReadingShown): GaugeValue {
  const { value } = reading;
  return { ...reading, value: typeof value === 'number' ? value : null };
}

/** What was read, with its unit's symbol; empty where nothing was. */
export function valueShown(
  { value, unit, decimals, acceptLower, acceptUpper }: ReadingShown,
  words: Words,
  format: Format,
): string {
  if (value === null) return '';
  if (typeof value === 'boolean') return value ? words.reading.yes : words.reading.no;
  const rounded = Number(value.toFixed(decimals));
  const within = (one: number) =>
    (acceptLower === null || one >= acceptLower) && (acceptUpper === null || one <= acceptUpper);
  // All digits where rounding would carry it across a limit: it must agree with its verdict.
  const text =
    within(rounded) === within(value)
      ? format.number(rounded === 0 ? 0 : rounded, decimals)
      : String(value);
  return withUnit(text, unit);
}

/** Acceptance and specification limits in words; empty where there are none. */
export function limitsShown(reading: ReadingShown, words: Words, format: Format): string {
  const { unit, decimals, lower, upper, acceptLower, acceptUpper, expected } = reading;
  const { reading: own } = words;
  if (expected !== null) return own.wanted(expected ? own.yes : own.no);
  if (lower === null && upper === null) return '';
  const accepted = {
    lower: inwardLimit(acceptLower, decimals, 'lower'),
    upper: inwardLimit(acceptUpper, decimals, 'upper'),
  };
  const isGuarded = lower !== acceptLower || upper !== acceptUpper;
  const specified = rangeShown({ lower, upper }, unit, words, format);
  return isGuarded
    ? own.guarded(rangeShown(accepted, null, words, format), specified)
    : own.limits(specified);
}

interface Range {
  lower: number | null;
  upper: number | null;
}

function rangeShown(
  { lower, upper }: Range,
  unit: string | null,
  { reading }: Words,
  format: Format,
): string {
  if (lower === null) return reading.atMost(withUnit(format.number(upper ?? 0), unit));
  if (upper === null) return reading.atLeast(withUnit(format.number(lower), unit));
  return reading.between(format.number(lower), withUnit(format.number(upper), unit));
}

function withUnit(text: string, unit: string | null): string {
  const symbol = symbolOf(unit);
  return symbol === '' ? text : `${text}\u00a0${symbol}`;
}
