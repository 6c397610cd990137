import { seedJson } from './files.js';
import { type Lane, readLanes } from './plant.js';
import { Random } from './random.js';

/** A powerhead or a lower unit as it stands in a rack. */
export interface Half {
  class: 'powerhead' | 'lower-unit';
  serial: string;
  part: string;
  revision: string;
  gtin: string;
  colour: string;
}

/** A component in the spare-part store of the repair bench. */
export interface Spare {
  class: string;
  part: string;
  serial: string;
}

export type Remedy =
  | { kind: 'adjust'; cause: string; action: string }
  | { kind: 'exchange'; positions: string[]; cause: string; action: string }
  | { kind: 'retest' | 'concession' | 'scrap'; reason: string };

/** What is wrong with a motor, which only the simulation knows. */
export interface Fault {
  name: string;
  /** How many motors of the shift have it. */
  motors: number;
  /** How far it moves a reading, in half widths of the acceptance zone. */
  shifts?: Record<string, number>;
  /** How it makes a prompt be answered. */
  answers?: Record<string, boolean>;
  /** The reading that it puts between the acceptance limit and the specification limit. */
  inGuardBand?: string;
  symptom: string;
  /** Tried in this order; the last one cures. */
  remedies: Remedy[];
}

export interface Motor {
  serial: string;
  model: string;
  powerhead: Half;
  lowerUnit: Half;
  fault: Fault | null;
  remediesTried: number;
}

/** A failed motor with the repair that its run opened. */
export interface RepairJob {
  motor: Motor;
  repair: number;
  fault: Fault;
  remedy: Remedy;
}

/** A run whose cell died. */
export interface OrphanRun {
  motor: Motor;
  run: number;
  cell: string;
}

/** Motors in which the shift's faults turn up: early enough to be tested and decided. */
const FAULTY_AMONG = 270;

const rackOf = (part: string, colour: string) => `${part}, ${colour}`;

/** Where everything stands between the stations: racks, queues, and who waits for what. */
export class Floor {
  readonly lanes: ReadonlyMap<string, Lane> = readLanes();
  readonly spares: Spare[] = [];
  readonly toTest: Motor[] = [];
  readonly toRepair: RepairJob[] = [];
  /** Jobs that quality decides: a retest, a concession, a scrap. */
  readonly toDecide: RepairJob[] = [];
  /** Runs of dead cells: for another cell, and for quality to abort. */
  readonly orphans: OrphanRun[] = [];
  readonly orphansToAbort: OrphanRun[] = [];
  readonly counts = { set: 0, refused: 0, tested: 0, failed: 0, released: 0 };
  /** Pairs that stations hold, by order: motors about to be set. */
  readonly #inHand = new Map<string, number>();
  readonly #racks = new Map<string, Half[]>();
  readonly #faults = dealFaults();

  /** Takes a pair of a configuration out of the racks; undefined where one half is missing. */
  takePair(configuration: string): { powerhead: Half; lowerUnit: Half } | undefined {
    const lane = this.lanes.get(configuration);
    if (!lane) return undefined;
    const powerheads = this.#rack(lane.powerhead, lane.colour);
    const lowerUnits = this.#rack(lane.lowerUnit, lane.colour);
    if (powerheads.length === 0 || lowerUnits.length === 0) return undefined;
    return { powerhead: powerheads.shift() as Half, lowerUnit: lowerUnits.shift() as Half };
  }

  /** How many pairs stations hold for an order. */
  inHand(order: string): number {
    return this.#inHand.get(order) ?? 0;
  }

  /** A station takes a pair for an order (1), or has set it or put it away (-1). */
  countInHand(order: string, change: 1 | -1): void {
    this.#inHand.set(order, this.inHand(order) + change);
  }

  /** The first lower unit of another kind or colour, which stays in its rack. */
  lookAtLowerUnit(part: string, colour: string): Half | undefined {
    return this.#rack(part, colour)[0];
  }

  /** Adds a half at the end of its rack. */
  stock(half: Half): void {
    this.#rack(half.part, half.colour).push(half);
  }

  /** Puts a half back, to be taken next. */
  putBack(half: Half): void {
    this.#rack(half.part, half.colour).unshift(half);
  }

  /** Clears a rack of a revision that no configuration takes any more. */
  withdraw({ part, colour, revision }: Half): void {
    const rack = this.#rack(part, colour);
    const kept = rack.filter((one) => one.revision !== revision);
    rack.splice(0, rack.length, ...kept);
  }

  /** A motor leaves its set station, with whatever is wrong with it. */
  addMotor(serial: string, model: string, powerhead: Half, lowerUnit: Half): Motor {
    const fault = this.#faults.get(this.counts.set) ?? null;
    const motor = { serial, model, powerhead, lowerUnit, fault, remediesTried: 0 };
    this.counts.set += 1;
    this.toTest.push(motor);
    return motor;
  }

  #rack(part: string, colour: string): Half[] {
    const name = rackOf(part, colour);
    const rack = this.#racks.get(name) ?? [];
    this.#racks.set(name, rack);
    return rack;
  }
}

/** Deals the shift's faults to motors by the order in which they are set. */
function dealFaults(): Map<number, Fault> {
  const faults = seedJson<Fault[]>('faults.json').flatMap((fault) =>
    Array.from({ length: fault.motors }, () => fault),
  );
  const random = Random.stream(1);
  const places = random.shuffled(Array.from({ length: FAULTY_AMONG }, (_, i) => i));
  return new Map(faults.map((fault, i) => [places[i] ?? 0, fault]));
}
