import type { ModelMotor, ModelRepair, ModelUnit, PlantModel } from './plant-model.js';
import { failing, passing } from './scenario.js';

/**
 * A command as it is sent, whether the model allows it as things stand when it is carried out,
 * and what it then does to the model. Others may be carried out between making and sending.
 */
export interface Step {
  path: string;
  body: object;
  allowed: () => boolean;
  /** Events that a refusal writes: a refused set is recorded. */
  eventsWhenRefused?: number;
  apply: (answer: Record<string, unknown>) => void;
}

export interface World {
  model: PlantModel;
  order: string;
  cells: readonly string[];
}

type Pick = <T>(from: readonly T[]) => T | undefined;
type Make = (world: World, pick: Pick) => Step | undefined;

const reason = 'For the property';
const ofClass = (units: readonly ModelUnit[], unitClass: string) =>
  units.filter((one) => one.class === unitClass);
const ended = ['released', 'torn-down', 'scrapped'];

/** Motors to pick from: those that have not ended three times, so that their lives go on. */
function mostlyAlive({ motors }: PlantModel): ModelMotor[] {
  const alive = motors.filter((one) => !ended.includes(one.state));
  return [...alive, ...alive, ...motors];
}

/** Commands of the second half of a motor's life, and those of the first that they need. */
export const commands: Record<string, Make> = {
  set: ({ model, order }, pick) => {
    const powerhead = pick(ofClass(model.parts, 'powerhead'));
    const lowerUnit = pick(ofClass(model.parts, 'lower-unit'));
    if (!powerhead || !lowerUnit) return undefined;
    const halves = { powerhead: powerhead.serial, lowerUnit: lowerUnit.serial };
    return {
      path: '/v1/sets',
      body: { ...halves, order, station: 'SET-1' },
      allowed: () =>
        model.isFree(powerhead) && model.isFree(lowerUnit) && model.setCount < model.quantity,
      eventsWhenRefused: 1,
      apply: ({ motor }) => {
        const made: ModelMotor = {
          ...{ class: 'motor', serial: String(motor), state: 'awaiting-test', parent: null },
          ...{ openHolds: 0, runId: null, runOpen: false, cell: '', attempts: 0 },
          ...{ repaired: false, repair: null },
        };
        model.motors.push(made);
        model.put(powerhead, made);
        model.put(lowerUnit, made);
        model.setCount += 1;
      },
    };
  },
  start: ({ model, cells }, pick) => {
    const motor = pick(mostlyAlive(model));
    const cell = pick(cells);
    if (!motor || !cell) return undefined;
    return {
      path: '/v1/runs',
      body: { motor: motor.serial, cell },
      allowed: () =>
        motor.state === 'awaiting-test' && !model.isHeld(motor) && model.isCellFree(cell),
      apply: ({ id }) => {
        Object.assign(motor, { state: 'in-test', runId: Number(id), runOpen: true, cell });
      },
    };
  },
  fail: ({ model }, pick) => completion(model, pick, 'fail'),
  abort: ({ model }, pick) => {
    const motor = pick(mostlyAlive(model));
    const run = motor?.runId;
    if (!motor || !run) return undefined;
    return {
      path: `/v1/runs/${run}/abort`,
      body: { reason },
      allowed: () => motor.runOpen && motor.runId === run,
      apply: () => model.endRun(motor, null, null),
    };
  },
  pass: ({ model }, pick) => completion(model, pick, 'pass'),
  openRepair: ({ model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    return {
      path: '/v1/repairs',
      body: { motor: motor.serial, complaint: reason },
      allowed: () => ['awaiting-test', 'passed'].includes(motor.state),
      apply: ({ id }) => {
        motor.state = 'in-repair';
        motor.repair = { id: Number(id), open: true, afterFailedRun: false, exchanges: 0 };
      },
    };
  },
  closeRepair: ({ model }, pick) => {
    const motor = pick(mostlyAlive(model));
    const repair = motor?.repair;
    if (!motor || !repair) return undefined;
    return {
      path: `/v1/repairs/${repair.id}/closure`,
      body: { symptom: 'low-pressure', cause: 'impeller', action: 'replaced' },
      allowed: () => repair.open && model.isWhole(motor),
      apply: () => {
        motor.repaired = true;
        model.endRepair(motor, 'awaiting-test');
      },
    };
  },
  takeOut: (world, pick) => exchange(world, pick, true, false),
  putIn: (world, pick) => exchange(world, pick, false, true),
  swap: (world, pick) => exchange(world, pick, true, true),
  retest: ({ model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    const isUntouched = () => !motor.repair?.open || motor.repair.exchanges === 0;
    return {
      path: '/v1/retests',
      body: { motor: motor.serial, reason },
      allowed: () => ['in-repair', 'passed'].includes(motor.state) && isUntouched(),
      apply: () => model.endRepair(motor, 'awaiting-test'),
    };
  },
  concession: ({ model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    const isUntouched = ({ open, afterFailedRun, exchanges }: ModelRepair) =>
      open && afterFailedRun && exchanges === 0;
    return {
      ...disposition(motor, 'concession'),
      allowed: () => motor.repair !== null && isUntouched(motor.repair),
      apply: () => model.endRepair(motor, 'passed'),
    };
  },
  scrap: ({ model }, pick) => {
    const unit = pick(model.units);
    if (!unit) return undefined;
    const motor = model.motors.find((one) => one === unit);
    return {
      ...disposition(unit, 'scrap'),
      allowed: () => ![...ended, 'in-test', 'installed'].includes(unit.state),
      apply: () => {
        if (motor) model.endRepair(motor, 'scrapped');
        unit.state = 'scrapped';
        model.setCount -= motor ? 1 : 0;
      },
    };
  },
  tearDown: ({ model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    return {
      path: '/v1/teardowns',
      body: { motor: motor.serial, reason },
      allowed: () => ![...ended, 'in-test'].includes(motor.state) && model.isWhole(motor),
      apply: () => {
        model.endRepair(motor, 'torn-down');
        for (const half of model.inside(motor)) {
          model.take(half, 'accepted');
          // A hold on the motor itself is not got rid of by taking it apart.
          if (motor.openHolds > 0) half.openHolds += 1;
        }
        model.setCount -= 1;
      },
    };
  },
  hold: ({ model }, pick) => {
    const unit = pick(model.units);
    if (!unit) return undefined;
    return {
      path: '/v1/holds',
      body: { class: unit.class, unit: unit.serial, cause: 'quality', reason },
      allowed: () => unit.state !== 'scrapped',
      apply: ({ id }) => {
        unit.openHolds += 1;
        model.holds.push({ id: Number(id), unit, open: true });
      },
    };
  },
  lift: ({ model }, pick) => {
    const hold = pick(model.holds);
    if (!hold) return undefined;
    return {
      path: `/v1/holds/${hold.id}/lift`,
      body: { reason },
      allowed: () => hold.open,
      apply: () => {
        hold.open = false;
        hold.unit.openHolds -= 1;
      },
    };
  },
  inspect: ({ model }, pick) => {
    const unit = pick(model.parts);
    if (!unit) return undefined;
    return {
      path: '/v1/inspections',
      body: { class: unit.class, unit: unit.serial, result: 'accepted' },
      allowed: () => ['accepted', 'rejected'].includes(unit.state),
      apply: () => {
        unit.state = 'accepted';
      },
    };
  },
  release: ({ model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    return {
      path: '/v1/releases',
      body: { motors: [motor.serial] },
      allowed: () => motor.state === 'passed' && !model.isHeld(motor),
      apply: () => {
        motor.state = 'released';
      },
    };
  },
};

function completion(model: PlantModel, pick: Pick, verdict: 'pass' | 'fail'): Step | undefined {
  const motor = pick(mostlyAlive(model));
  const run = motor?.runId;
  if (!motor || !run) return undefined;
  return {
    path: `/v1/runs/${run}/completion`,
    body: { readings: verdict === 'pass' ? passing : failing },
    allowed: () => motor.runOpen && motor.runId === run,
    apply: ({ repair }) => model.endRun(motor, verdict, repair === null ? null : Number(repair)),
  };
}

function disposition({ class: unitClass, serial: unit }: ModelUnit, kind: string) {
  return { path: '/v1/dispositions', body: { class: unitClass, unit, kind, reason } };
}

/** Takes a part out, puts one in, or both: a half of the motor, or the pump of a powerhead. */
function exchange({ model }: World, pick: Pick, out: boolean, into: boolean): Step | undefined {
  const repairs = model.motors.filter((one) => one.repair);
  const open = repairs.filter((one) => one.repair?.open);
  const motor = pick([...open, ...open, ...open, ...repairs]);
  const classes = ['powerhead', 'lower-unit', 'fuel-pump'];
  // Mostly what is possible, so that many exchanges come about: in an open repair an
  // empty half is filled, what comes out is the part that is there, what goes in is free.
  const empty = ['powerhead', 'lower-unit'].filter((one) => motor && !model.occupant(motor, one));
  const wanted = into && !out ? [...empty, ...empty, ...empty] : [];
  const unitClass = pick([...wanted, ...classes]) ?? 'powerhead';
  const parent = unitClass === 'fuel-pump' ? pick(ofClass(model.parts, 'powerhead')) : motor;
  const occupant = parent && model.occupant(parent, unitClass);
  const present = occupant ? [occupant, occupant, occupant] : [];
  const all = ofClass(model.parts, unitClass);
  const removed = out ? pick([...present, ...all]) : undefined;
  const free = all.filter((one) => model.isFree(one));
  const fitted = into ? pick([...free, ...free, ...all]) : undefined;
  const { repair } = motor ?? {};
  if (!motor || !repair || !parent || (out && !removed) || (into && !fitted)) return undefined;
  return {
    path: `/v1/repairs/${repair.id}/exchanges`,
    body: {
      ...{ parentClass: parent.class, parent: parent.serial, position: unitClass },
      ...(removed ? { removed: removed.serial } : {}),
      ...(fitted ? { fitted: { class: fitted.class, serial: fitted.serial } } : {}),
    },
    allowed: () =>
      repair.open &&
      model.top(parent) === motor &&
      model.occupant(parent, unitClass) === removed &&
      (fitted === undefined || model.isFree(fitted)),
    apply: () => {
      if (removed) model.take(removed, 'rejected');
      if (fitted) model.put(fitted, parent);
      repair.exchanges += 1;
    },
  };
}
