import type { Floor, Half } from './floor.js';
import { elementString, envelope } from './labels.js';
import type { Random } from './random.js';

/** What a station sends when it sets a pair. */
export interface Scans {
  powerhead: string;
  lowerUnit: string;
  order?: string;
}

export interface OrderNow {
  number: string;
  model: string;
  quantity: number;
  set: number;
  priority: number;
  dueOn: string;
  state: 'open' | 'closed';
}

/** What an operator has at hand when a scan goes wrong. */
export interface Moment {
  floor: Floor;
  powerhead: Half;
  lowerUnit: Half;
  model: string;
  /** The powerhead of the motor set before, whose label is still within reach. */
  lastPowerhead: Half | undefined;
  orders: readonly OrderNow[];
}

/** A mistake at the scanner: the scans that it makes, or undefined where it cannot happen now. */
type Slip = (moment: Moment) => Scans | undefined;

const plain = ({ powerhead, lowerUnit }: Moment): Scans => ({
  powerhead: powerhead.serial,
  lowerUnit: lowerUnit.serial,
});

const withOrder = (moment: Moment, wanted: (order: OrderNow) => boolean): Scans | undefined => {
  const order = moment.orders.find(wanted);
  return order && { ...plain(moment), order: order.number };
};

const isComplete = (order: OrderNow) => order.state === 'open' && order.set >= order.quantity;

const bothSwapped: Slip = ({ powerhead, lowerUnit }) => ({
  powerhead: lowerUnit.serial,
  lowerUnit: powerhead.serial,
});

/** Typed by hand, with one digit too many. */
const mistyped: Slip = (moment) => ({
  ...plain(moment),
  powerhead: `${moment.powerhead.serial}1`,
});

/** The scanner read half of a torn label. */
const tornLabel: Slip = (moment) => ({
  ...plain(moment),
  lowerUnit: envelope(moment.lowerUnit.serial).slice(0, -2),
});

const sameMotorAgain: Slip = (moment) =>
  moment.lastPowerhead && { ...plain(moment), powerhead: moment.lastPowerhead.serial };

const lowerUnitOfAnotherModel: Slip = (moment) => {
  const { floor, powerhead, lowerUnit } = moment;
  for (const lane of floor.lanes.values()) {
    if (lane.powerhead === powerhead.part) continue;
    const other = floor.lookAtLowerUnit(lane.lowerUnit, lane.colour);
    if (other && other.part !== lowerUnit.part)
      return { ...plain(moment), lowerUnit: other.serial };
  }
  return undefined;
};

const lowerUnitOfAnotherColour: Slip = (moment) => {
  const { floor, lowerUnit } = moment;
  for (const lane of floor.lanes.values()) {
    if (lane.lowerUnit !== lowerUnit.part || lane.colour === lowerUnit.colour) continue;
    const other = floor.lookAtLowerUnit(lane.lowerUnit, lane.colour);
    if (other) return { ...plain(moment), lowerUnit: other.serial };
  }
  return undefined;
};

/** The label of one part got onto another. */
const labelOfAnotherPart: Slip = (moment) => {
  const { powerhead, lowerUnit } = moment;
  return { ...plain(moment), powerhead: elementString(lowerUnit.gtin, powerhead.serial) };
};

const cardOfCompleteOrder: Slip = (moment) =>
  withOrder(moment, (order) => order.model === moment.model && isComplete(order));

const cardOfClosedOrder: Slip = (moment) =>
  withOrder(moment, (order) => order.model === moment.model && order.state === 'closed');

const cardOfAnotherModel: Slip = (moment) =>
  withOrder(moment, (order) => order.model !== moment.model && order.state === 'open');

const unknownCard: Slip = (moment) => ({ ...plain(moment), order: 'TB-1401' });

/**
 * The slips of a shift, each in turn: what has not happened for longest happens next, as
 * soon as it can.
 */
export class Slips {
  readonly #waiting: Slip[];

  constructor(random: Random) {
    this.#waiting = random.shuffled([
      bothSwapped,
      mistyped,
      tornLabel,
      sameMotorAgain,
      lowerUnitOfAnotherModel,
      lowerUnitOfAnotherColour,
      labelOfAnotherPart,
      cardOfCompleteOrder,
      cardOfClosedOrder,
      cardOfAnotherModel,
      unknownCard,
    ]);
  }

  /** The scans of the next slip that can happen now. */
  next(moment: Moment): Scans | undefined {
    for (const [place, slip] of this.#waiting.entries()) {
      const scans = slip(moment);
      if (!scans) continue;
      this.#waiting.splice(place, 1);
      this.#waiting.push(slip);
      return scans;
    }
    return undefined;
  }
}
