import { remember, remembered } from '../lib/kept.js';
import { byId } from '../lib/page.js';
import { isSoundOn, turnSound } from '../lib/sound.js';

const CELL = 'test-cell.cell';

/** In memory too, for a browser that may keep nothing. */
let cell: string | undefined = remembered(CELL);

export function cellName(): string | undefined {
  return cell;
}

/** The address of this page for the cell. */
export function pageOfCell(): string {
  return cell === undefined
    ? location.pathname
    : `${location.pathname}?${new URLSearchParams({ cell })}`;
}

/** Lets a person say once which cell this is. */
export function startPlace(whenKept: () => void): void {
  const place = byId<HTMLDetailsElement>('place');
  const name = byId<HTMLInputElement>('cell');
  const sound = byId<HTMLInputElement>('sound');
  place.addEventListener('toggle', () => {
    if (!place.open) return;
    name.value = cell ?? '';
    sound.checked = isSoundOn();
  });
  byId<HTMLFormElement>('place-form').addEventListener('submit', (event) => {
    event.preventDefault();
    cell = name.value.trim();
    remember(CELL, cell);
    turnSound(sound.checked);
    place.open = false;
    whenKept();
  });
}

/** Opens the form where the cell has no name yet. */
export function askForCell(): void {
  byId<HTMLDetailsElement>('place').open = true;
  byId('cell').focus();
}
