import { type ShiftClock, seconds } from './agenda.js';
import type { Caller } from './caller.js';
import { seedJson } from './files.js';
import type { Floor, Half, Spare } from './floor.js';
import { envelope } from './labels.js';
import { readCatalogue } from './plant.js';
import { Random } from './random.js';
import type { Staff } from './staff.js';

interface StockLine {
  part: string;
  revision: string;
  colour: string;
  count: number;
  injectors?: number;
  components: Record<string, string>;
}

interface Stock {
  powerheads: StockLine[];
  lowerUnits: StockLine[];
  sparesOfEachComponent: number;
}

/** Requests under way at once while the racks are filled. */
const AT_ONCE = 16;
const LOWER_UNITS_REJECTED = 0.015;
const POWERHEADS_LOOSE = 0.01;

const PREFIX: Record<string, string> = {
  powerhead: 'P',
  'lower-unit': 'L',
  starter: 'ST',
  ecu: 'EC',
  'fuel-pump': 'FP',
  'fuel-rail': 'FR',
  injector: 'IN',
  'water-pump': 'WP',
};

/** A component with what is in it. */
interface Component {
  class: string;
  position?: string;
  serial: string;
  part: string;
  holds?: Component[];
}

/** A half of the plan, with everything that is entered for it. */
interface Planned {
  half: Half;
  components: Component[];
  lots: { part: string; revision: string; lot: string }[];
  rejected: boolean;
}

/**
 * Enters powerheads, lower units, their components and the spare parts, each as its
 * upstream inspection found it, and fills the racks with them. Some lower units are
 * rejected for their paint, some powerheads found loose in an audit, one is scrapped.
 */
export async function fillRacks(
  staff: Staff,
  floor: Floor,
  clock: ShiftClock,
  entered: (done: number, of: number) => void,
): Promise<void> {
  const planner = new Planner();
  const halves = planner.halves();
  const spares = planner.spares();
  let done = 0;
  const of = halves.length + spares.length;
  const step = (): void => {
    clock.advance(seconds(4));
    done += 1;
    entered(done, of);
  };
  await inParallel(spares, async (spare) => {
    await enterComponent(staff.inspection, spare);
    step();
  });
  floor.spares.push(...spares);
  await inParallel(halves, async (planned) => {
    await enterHalf(staff.inspection, planned);
    step();
  });
  for (const { half } of halves) floor.stock(half);
  await auditFastenings(staff.quality, halves);
  await scrapOne(staff.quality, halves);
}

class Planner {
  readonly #stock = seedJson<Stock>('stock.json');
  readonly #random = Random.stream(2);
  readonly #gtins = new Map(readCatalogue().parts.map((one) => [one.number, one.gtin ?? '']));
  readonly #numbers = new Map<string, number>();

  halves(): Planned[] {
    const powerheads = this.#stock.powerheads.flatMap((line) => this.#planned('powerhead', line));
    const lowerUnits = this.#stock.lowerUnits.flatMap((line) => this.#planned('lower-unit', line));
    return [...powerheads, ...lowerUnits];
  }

  spares(): Spare[] {
    const { powerheads, lowerUnits, sparesOfEachComponent } = this.#stock;
    const kinds = new Map(
      [...powerheads, ...lowerUnits].flatMap((line) =>
        Object.entries(line.components).map(([partClass, part]) => [part, partClass]),
      ),
    );
    kinds.set('INJ-D', 'injector');
    return [...kinds].flatMap(([part, partClass]) =>
      Array.from({ length: sparesOfEachComponent }, () => this.#component(partClass, part)),
    );
  }

  #planned(halfClass: Half['class'], line: StockLine): Planned[] {
    return Array.from({ length: line.count }, () => ({
      half: {
        class: halfClass,
        serial: this.#serial(halfClass),
        part: line.part,
        revision: line.revision,
        gtin: this.#gtins.get(line.part) ?? '',
        colour: line.colour,
      },
      components: this.#components(line),
      lots: this.#lots(halfClass, line.colour),
      rejected: halfClass === 'lower-unit' && this.#random.chance(LOWER_UNITS_REJECTED),
    }));
  }

  #components(line: StockLine): Component[] {
    return Object.entries(line.components).map(([partClass, part]) => {
      const component = this.#component(partClass, part);
      if (partClass !== 'fuel-rail' || line.injectors === undefined) return component;
      const holds = Array.from({ length: line.injectors }, (_, i) => ({
        ...this.#component('injector', 'INJ-D'),
        position: `injector-${i + 1}`,
      }));
      return { ...component, holds };
    });
  }

  #component(partClass: string, part: string): Component {
    return { class: partClass, part, serial: this.#serial(partClass) };
  }

  #serial(unitClass: string): string {
    const number = (this.#numbers.get(unitClass) ?? 0) + 1;
    this.#numbers.set(unitClass, number);
    return `${PREFIX[unitClass] ?? 'X'}${String(20_000 + number)}`;
  }

  #lots(halfClass: Half['class'], colour: string) {
    const lot = (part: string, code: string) => ({ part, revision: '1', lot: code });
    const letter = this.#random.chance(0.6) ? 'A' : 'B';
    if (halfClass === 'powerhead') return [lot('GASKET-H', `HG-118${letter}`)];
    const topCoat = colour === 'harbour white' ? 'TOPCOAT-W' : 'TOPCOAT-G';
    return [
      lot('PRIMER-E', `EP-0731${letter}`),
      lot(topCoat, `TC-2206${letter}`),
      lot('GEAROIL-90', `GO-554${letter}`),
    ];
  }
}

async function enterComponent(inspection: Caller, component: Component): Promise<void> {
  const holds = component.holds ?? [];
  for (const one of holds) await enterComponent(inspection, one);
  await inspection.tell('/v1/units', {
    class: component.class,
    // Suppliers label components by ISO/IEC 15434.
    serial: envelope(component.serial, component.part),
    part: { number: component.part, revision: 'A' },
    inspection: { result: 'accepted' },
    ...(holds.length > 0 ? { components: holds.map(fitting) } : {}),
    station: 'RECEIVING',
  });
}

function fitting(component: Component) {
  const { class: partClass, position = partClass, serial } = component;
  return { class: partClass, serial, position };
}

async function enterHalf(inspection: Caller, planned: Planned): Promise<void> {
  const { half, components, lots, rejected } = planned;
  for (const one of components) await enterComponent(inspection, one);
  const isPowerhead = half.class === 'powerhead';
  await inspection.tell('/v1/units', {
    class: half.class,
    serial: half.serial,
    part: { number: half.part, revision: half.revision },
    attributes: { colour: half.colour },
    inspection: rejected
      ? { result: 'rejected', note: 'Run in the top coat on the skeg' }
      : { result: 'accepted' },
    ...(isPowerhead ? { fastenings: [1, 2, 3, 4].map((bolt) => headBolt(bolt, half)) } : {}),
    lots,
    components: components.map(fitting),
    station: isPowerhead ? 'POWERHEAD-LINE' : 'PAINT',
  });
}

const HEAD_BOLT = {
  tool: 'DCT-07',
  torqueLower: 27,
  torqueUpper: 33,
  torqueUnit: 'N.m',
  angleLower: 80,
  angleUpper: 100,
  angleUnit: 'deg',
};

/** A fastening inside its window, a little different for each powerhead. */
function headBolt(bolt: number, half: Half) {
  const random = Random.stream(Number(half.serial.slice(1)) + bolt * 100_000);
  return {
    joint: `cylinder head ${bolt}`,
    ...HEAD_BOLT,
    torque: Number(random.between(28, 32).toFixed(1)),
    angle: Math.round(random.between(85, 95)),
  };
}

/** An audit finds bolts outside their window; the service puts those powerheads on hold. */
async function auditFastenings(quality: Caller, halves: readonly Planned[]): Promise<void> {
  const random = Random.stream(3);
  for (const { half } of halves) {
    if (half.class !== 'powerhead' || !random.chance(POWERHEADS_LOOSE)) continue;
    await quality.tell('/v1/fastenings', {
      class: 'powerhead',
      unit: half.serial,
      fastenings: [{ ...headBolt(2, half), torque: 24.5 }],
      station: 'AUDIT',
    });
  }
}

/** One powerhead was dropped; it is scrapped and yet left standing in the rack. */
async function scrapOne(quality: Caller, halves: readonly Planned[]): Promise<void> {
  const dropped = halves.filter(({ half }) => half.part === 'PH-37')[20];
  if (!dropped) throw new Error('the seed has too few powerheads');
  await quality.tell('/v1/dispositions', {
    class: 'powerhead',
    unit: dropped.half.serial,
    kind: 'scrap',
    reason: 'Dropped from the hoist; crankcase cracked.',
    station: 'POWERHEAD-LINE',
  });
}

/** Works through a list with a fixed number under way at once. */
async function inParallel<T>(items: readonly T[], work: (item: T) => Promise<void>): Promise<void> {
  let next = 0;
  const worker = async (): Promise<void> => {
    while (next < items.length) {
      const item = items[next] as T;
      next += 1;
      await work(item);
    }
  };
  await Promise.all(Array.from({ length: AT_ONCE }, worker));
}
