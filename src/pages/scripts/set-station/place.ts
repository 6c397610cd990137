import { ask } from '../lib/api.js';
import { remember, remembered } from '../lib/kept.js';
import { byId } from '../lib/page.js';
import { isSoundOn, turnSound } from '../lib/sound.js';
import { showEmpty, showOrder } from './cards.js';
import type { Order } from './scan.js';

const STATION = 'set-station.station';
const ORDER = 'set-station.order';

/** In memory too, for a browser that may keep nothing. */
let station: string | undefined = remembered(STATION);
let order: string | undefined = remembered(ORDER);

export function stationName(): string | undefined {
  return station;
}

/** The order that was chosen here; undefined for the most urgent that fits. */
export function chosenOrder(): string | undefined {
  return order;
}

/** Chooses the order that sets are for from now on, or none. */
export function chooseOrder(chosen: Order | undefined): void {
  order = chosen?.number;
  remember(ORDER, order);
  if (chosen) showOrder(chosen);
  else showEmpty('order');
}

/** Shows how far the chosen order is; forgets one that is no more. */
export async function showChosenOrder(): Promise<void> {
  if (order === undefined) return;
  const answer = await ask<Order>(`/v1/orders/${encodeURIComponent(order)}`);
  if (answer.kind === 'done') chooseOrder(answer.body);
  else if (answer.kind === 'refused') chooseOrder(undefined);
}

/** The address of this page for the station, so that its last sets are those made here. */
export function pageOfStation(): string {
  return station === undefined
    ? location.pathname
    : `${location.pathname}?${new URLSearchParams({ station })}`;
}

/** A form that is left open would take the next scan as the station's name. */
const LEFT_AFTER_MS = 60_000;

/**
 * Lets a person say once which station this is and what it builds for.
 * @param whenLeft nobody went on with the form, so it was closed
 */
export function startPlace(whenKept: () => void, whenLeft: () => void): void {
  const place = byId<HTMLDetailsElement>('place');
  const form = byId<HTMLFormElement>('place-form');
  const fields = {
    station: byId<HTMLInputElement>('station'),
    order: byId<HTMLSelectElement>('order'),
    sound: byId<HTMLInputElement>('sound'),
  };
  let leaving: ReturnType<typeof setTimeout> | undefined;
  const stay = () => {
    clearTimeout(leaving);
    if (!place.open || station === undefined) return;
    leaving = setTimeout(() => {
      place.open = false;
      whenLeft();
    }, LEFT_AFTER_MS);
  };
  place.addEventListener('input', stay);
  place.addEventListener('toggle', () => {
    stay();
    if (!place.open) return;
    // The event comes late on a busy machine: what is being typed already is not written over.
    if (document.activeElement !== fields.station) fields.station.value = station ?? '';
    if (order !== undefined) offer(fields.order, order);
    fields.order.value = order ?? '';
    fields.sound.checked = isSoundOn();
  });
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    station = fields.station.value.trim();
    remember(STATION, station);
    turnSound(fields.sound.checked);
    order = fields.order.value || undefined;
    remember(ORDER, order);
    if (order === undefined) showEmpty('order');
    place.open = false;
    whenKept();
  });
}

/** Opens the form where a station has no name yet. */
export function askForStation(): void {
  byId<HTMLDetailsElement>('place').open = true;
  byId('station').focus();
}

function offer(choice: HTMLSelectElement, value: string): void {
  const known = [...choice.options].some((one) => one.value === value);
  if (!known) choice.add(new Option(value, value));
}
