/** A unit by its short name: P a powerhead, L a lower unit, C a component, M a motor. */
export type Name = string;

export interface Place {
  child: Name;
  parent: Name;
  position: string;
  from: number;
  until: number;
}

/** The naive model of all genealogy: every place that anything was ever in, in one list. */
export class Places {
  readonly list: Place[] = [];
  readonly #entered = new Map<Name, number>();

  enter(name: Name, at: number): void {
    this.#entered.set(name, at);
  }

  open(child: Name): Place | undefined {
    return this.list.find((one) => one.child === child && one.until === Infinity);
  }

  occupant(parent: Name, position: string): Name | undefined {
    return this.list.find(
      (one) => one.parent === parent && one.position === position && one.until === Infinity,
    )?.child;
  }

  /** The outermost unit that one is in now. */
  top(name: Name): Name {
    const place = this.open(name);
    return place ? this.top(place.parent) : name;
  }

  /**
   * A child comes in no earlier than both were entered, it left elsewhere, its position
   * was freed, and what it goes into was last in it.
   * @throws Error where the service let something happen that cannot be
   */
  fit(child: Name, parent: Name, position: string, at: number): void {
    if (this.open(child)) throw new Error(`${child} was fitted while it is in something`);
    if (this.occupant(parent, position)) throw new Error(`${parent}.${position} was filled twice`);
    if (this.top(parent) === child) throw new Error(`${child} was fitted into itself`);
    const freed = this.list
      .filter((one) => one.child === child || (one.parent === parent && one.position === position))
      .map((one) => one.until);
    const parted = this.list
      .map((one) => one.until)
      .filter((until) => this.below(child, until - 1).some((one) => one.child === parent));
    const entered = [child, parent].map((name) => this.#entered.get(name) ?? at);
    const from = Math.max(at, ...freed, ...parted, ...entered);
    this.list.push({ child, parent, position, from, until: Infinity });
  }

  /** It leaves no earlier than it came. */
  take(child: Name, at: number): void {
    const place = this.open(child);
    if (!place) throw new Error(`${child} was taken out of nothing`);
    place.until = Math.max(place.from, at);
  }

  /** Where a child was at an instant: from the beginning on, and no longer at the end. */
  at(child: Name, atMs: number): Place | undefined {
    return this.list.find((one) => one.child === child && one.from <= atMs && atMs < one.until);
  }

  /** Everything in a unit at an instant, at every level. */
  below(parent: Name, atMs: number): Place[] {
    return this.list
      .filter((one) => one.parent === parent && one.from <= atMs && atMs < one.until)
      .flatMap((one) => [one, ...this.below(one.child, atMs)]);
  }

  /** Where a unit was at an instant, and where that was, outward. */
  above(child: Name, atMs: number): Place[] {
    const place = this.at(child, atMs);
    return place ? [place, ...this.above(place.parent, atMs)] : [];
  }
}

export const clockText = (ms: number) =>
  ms === Infinity ? 'now' : new Date(ms).toISOString().slice(5, 23).replace('T', ' ');

export function placeText({ child, parent, position, from, until }: Place): string {
  return `${child} in ${parent}.${position} from ${clockText(from)} until ${clockText(until)}`;
}
