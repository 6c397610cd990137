import fc from 'fast-check';
import type { TestPlant } from '../../support/plant.js';
import { goodFastening } from '../../support/scenario.js';
import { clockText, type Name, Places } from './places.js';

export const deeds = [
  'enter',
  'fit',
  'remove',
  'set',
  'tear down',
  'repair',
  'exchange',
  'close',
  'accept',
  'scrap',
] as const;
export type Deed = (typeof deeds)[number];

/** A step; its numbers pick among the units that there are when it is taken. */
export interface Step {
  deed: Deed;
  a: number;
  b: number;
  /** Minutes since the step before. */
  wait: number;
  /** How many minutes before it is recorded it is said to have happened. */
  late: number;
}

const weights: Record<Deed, number> = {
  enter: 2,
  fit: 8,
  remove: 4,
  set: 5,
  'tear down': 3,
  repair: 5,
  exchange: 8,
  close: 3,
  accept: 2,
  scrap: 2,
};

export const step: fc.Arbitrary<Step> = fc.record({
  deed: fc.oneof(...deeds.map((deed) => ({ arbitrary: fc.constant(deed), weight: weights[deed] }))),
  a: fc.nat(59),
  b: fc.nat(59),
  wait: fc.nat(9),
  late: fc.oneof({ weight: 4, arbitrary: fc.constant(0) }, { weight: 1, arbitrary: fc.nat(30) }),
});

type Kind = 'P' | 'L' | 'C';
const classes = { P: 'powerhead', L: 'lower-unit', C: 'fuel-pump', M: 'motor' } as const;
const parts = { P: 'PH-100', L: 'LU-20', C: 'FP-1' } as const;
const halves = ['powerhead', 'lower-unit'] as const;
const reason = 'As the sequence says';

/** A step for real, and what follows from it in the model where it was not refused. */
interface Meaning {
  words: string;
  as: string;
  address: string;
  body: object;
  follow?: (answer: Record<string, unknown>) => void;
}

const isEmpty = (places: Places, motor: Name) =>
  halves.every((half) => places.occupant(motor, half) === undefined);

let begun = 0;

/** A sequence on units of its own, each step sent to the service and followed by the model. */
export class Sequence {
  readonly places = new Places();
  readonly units: Name[] = [];
  /** Every step's time, just before it, and between it and the one before. */
  readonly instants: number[] = [];
  readonly told: string[] = [];
  readonly #motors: string[] = [];
  readonly #repairs = new Map<Name, number>();
  readonly #prefix: string;

  constructor(
    private readonly plant: TestPlant,
    private readonly order: string,
    private readonly done: Map<Deed, number>,
  ) {
    begun += 1;
    this.#prefix = `G${begun}`;
  }

  /** A handful of each, so that there is something to work with. */
  async begin(): Promise<void> {
    for (const [kind, count] of [
      ['P', 3],
      ['L', 3],
      ['C', 5],
    ] as const) {
      for (let i = 0; i < count; i += 1) await this.#carryOut('enter', this.#entering(kind, []), 0);
    }
  }

  async take({ deed, a, b, wait, late }: Step): Promise<void> {
    const { now } = this.plant;
    this.plant.wait(wait * 60_000);
    const at = this.plant.now - late * 60_000;
    this.instants.push((now + this.plant.now) / 2, this.plant.now - 1, this.plant.now);
    if (late > 0) this.instants.push(at - 1, at);
    await this.#carryOut(deed, this.#meaningOf(deed, a, b, at), late);
  }

  async #carryOut(deed: Deed, { words, as, address, body, follow }: Meaning, late: number) {
    const at = this.plant.now - late * 60_000;
    const occurredAt = new Date(at).toISOString();
    const answer = await this.plant.post(as, address, { ...body, occurredAt });
    const refused = answer.status >= 300;
    const tail = refused ? `: ${answer.body.type}` : '';
    const earlier = late === 0 ? '' : ` (${late} min ago)`;
    this.told.push(`${clockText(this.plant.now)} ${words}${earlier}${tail}`);
    if (answer.status >= 500) throw new Error(answer.text);
    if (refused) return;
    this.done.set(deed, (this.done.get(deed) ?? 0) + 1);
    follow?.(answer.body);
  }

  serialOf(name: Name): string {
    return name[0] === 'M'
      ? (this.#motors[Number(name.slice(1)) - 1] ?? 'NONE')
      : `${this.#prefix}-${name}`;
  }

  nameOf(serial: string): Name {
    const motor = this.#motors.indexOf(serial);
    return motor < 0 ? serial.slice(this.#prefix.length + 1) : `M${motor + 1}`;
  }

  classOf(name: Name): string {
    return classes[name[0] as keyof typeof classes];
  }

  #ofKind(kind: string): Name[] {
    return this.units.filter((name) => name[0] === kind);
  }

  #pick(names: readonly Name[], n: number): Name {
    return names[n % Math.max(1, names.length)] ?? 'M0';
  }

  /** Mostly one of those that the step may well be done with, else any of the kind. */
  #likely(kind: string, n: number, fits: (name: Name) => boolean): Name {
    const all = this.#ofKind(kind);
    const good = all.filter(fits);
    return n % 8 === 7 || good.length === 0 ? this.#pick(all, n) : this.#pick(good, n);
  }

  #meaningOf(deed: Deed, a: number, b: number, at: number): Meaning {
    const isLoose = (name: Name) => !this.places.open(name);
    const inRepair = (name: Name) => this.#repairs.has(name);
    const any = this.#pick(this.units, a);
    const component = this.#likely('C', b, deed === 'remove' ? (one) => !isLoose(one) : isLoose);
    const needsRepair = deed === 'exchange' || deed === 'close';
    const motor = this.#likely('M', a, (name) =>
      needsRepair ? inRepair(name) : !isEmpty(this.places, name) && !inRepair(name),
    );
    const about = { class: this.classOf(any), unit: this.serialOf(any) };
    switch (deed) {
      case 'enter':
        return this.#entering(
          (['P', 'L', 'C'] as const)[a % 3] ?? 'C',
          b % 2 ? [component] : [],
          at,
        );
      case 'fit':
        return this.#fitting(any, component, ['x', 'y'][b % 2] ?? 'x', at);
      case 'remove':
        return {
          words: `remove ${component}`,
          as: 'repair',
          address: '/v1/removals',
          body: { class: 'fuel-pump', unit: this.serialOf(component), reason, as: 'accepted' },
          follow: () => this.places.take(component, at),
        };
      case 'set':
        return this.#setting(this.#likely('P', a, isLoose), this.#likely('L', b, isLoose), at);
      case 'tear down':
        return this.#tearing(motor, at);
      case 'repair':
        return {
          words: `open a repair of ${motor}`,
          as: 'repair',
          address: '/v1/repairs',
          body: { motor: this.serialOf(motor), complaint: 'Noise' },
          follow: ({ id }) => this.#repairs.set(motor, Number(id)),
        };
      case 'exchange':
        return this.#exchanging(motor, a, b, at);
      case 'close':
        return {
          words: `close the repair of ${motor}`,
          as: 'repair',
          address: `/v1/repairs/${this.#repairs.get(motor) ?? 999_999}/closure`,
          body: { symptom: 'low-pressure', cause: 'impeller', action: 'replaced' },
          follow: () => this.#repairs.delete(motor),
        };
      case 'accept':
        return {
          words: `accept ${any}`,
          as: 'set',
          address: '/v1/inspections',
          body: { ...about, result: 'accepted' },
        };
      case 'scrap':
        return {
          words: `scrap ${any}`,
          as: 'quality',
          address: '/v1/dispositions',
          body: { ...about, kind: 'scrap', reason },
        };
    }
  }

  #entering(kind: Kind, components: readonly Name[], at = this.plant.now): Meaning {
    const name = `${kind}${this.#ofKind(kind).length + 1}`;
    return {
      words: `enter ${name}${components.length > 0 ? ` with ${components.join()}` : ''}`,
      as: 'set',
      address: '/v1/units',
      body: {
        class: classes[kind],
        serial: this.serialOf(name),
        part: { number: parts[kind], revision: 'A' },
        inspection: { result: 'accepted' },
        fastenings: kind === 'P' ? [goodFastening] : [],
        components: components.map((one) => ({
          class: 'fuel-pump',
          serial: this.serialOf(one),
          position: 'x',
        })),
      },
      follow: () => {
        this.units.push(name);
        this.places.enter(name, at);
        for (const one of components) this.places.fit(one, name, 'x', at);
      },
    };
  }

  #fitting(parent: Name, child: Name, position: string, at: number): Meaning {
    return {
      words: `fit ${child} into ${parent}.${position}`,
      as: 'set',
      address: '/v1/installations',
      body: {
        parentClass: this.classOf(parent),
        parent: this.serialOf(parent),
        position,
        childClass: 'fuel-pump',
        child: this.serialOf(child),
      },
      follow: () => this.places.fit(child, parent, position, at),
    };
  }

  #setting(powerhead: Name, lowerUnit: Name, at: number): Meaning {
    const motor = `M${this.#motors.length + 1}`;
    return {
      words: `set ${powerhead} and ${lowerUnit} as ${motor}`,
      as: 'set',
      address: '/v1/sets',
      body: {
        powerhead: this.serialOf(powerhead),
        lowerUnit: this.serialOf(lowerUnit),
        order: this.order,
        station: 'SET-1',
      },
      follow: ({ motor: serial }) => {
        this.#motors.push(String(serial));
        this.units.push(motor);
        this.places.enter(motor, at);
        this.places.fit(powerhead, motor, 'powerhead', at);
        this.places.fit(lowerUnit, motor, 'lower-unit', at);
      },
    };
  }

  #tearing(motor: Name, at: number): Meaning {
    return {
      words: `tear ${motor} down`,
      as: 'repair',
      address: '/v1/teardowns',
      body: { motor: this.serialOf(motor), reason },
      follow: () => {
        this.#repairs.delete(motor);
        for (const half of halves) this.places.take(this.places.occupant(motor, half) ?? half, at);
      },
    };
  }

  /** Something of a motor under repair out, something in, or both. */
  #exchanging(motor: Name, a: number, b: number, at: number): Meaning {
    const inside = [motor, ...this.places.below(motor, this.plant.now).map((one) => one.child)];
    const half = halves[a % 4];
    const parent = half ? motor : this.#pick(inside, a);
    const position = half ?? ['x', 'y'][a % 2] ?? 'x';
    const out = this.places.occupant(parent, position);
    const kind = { powerhead: 'P', 'lower-unit': 'L', x: 'C', y: 'C' }[position] ?? 'C';
    const into =
      b % 4 === 0 && out ? undefined : this.#likely(kind, b, (name) => !this.places.open(name));
    return {
      words: `exchange ${out ?? 'nothing'} for ${into ?? 'nothing'} in ${parent}.${position}, in repair of ${motor}`,
      as: 'repair',
      address: `/v1/repairs/${this.#repairs.get(motor) ?? 999_999}/exchanges`,
      body: {
        parentClass: this.classOf(parent),
        parent: this.serialOf(parent),
        position,
        ...(out ? { removed: this.serialOf(out), removedAs: 'accepted' } : {}),
        ...(into ? { fitted: { class: this.classOf(into), serial: this.serialOf(into) } } : {}),
      },
      follow: () => {
        if (out) this.places.take(out, at);
        if (into) this.places.fit(into, parent, position, at);
      },
    };
  }
}
