import type { Response } from 'supertest';
import type { TestPlant } from './plant.js';
import type { ModelMotor, ModelUnit, PlantModel } from './plant-model.js';
import { failing, passing } from './scenario.js';

/** What a command does: asks the service, says whether the model allows it, and then does it. */
export interface Step {
  ask: () => Promise<Response>;
  allowed: boolean;
  /** Events that a refusal writes: a refused set is recorded. */
  eventsWhenRefused?: number;
  apply: (body: Record<string, unknown>) => void;
}

type Make = (world: World, pick: <T>(from: readonly T[]) => T | undefined) => Step | undefined;

export interface World {
  plant: TestPlant;
  model: PlantModel;
  order: string;
  cells: readonly string[];
}

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
  set: ({ plant, model, order: number }, pick) => {
    const powerhead = pick(ofClass(model.parts, 'powerhead'));
    const lowerUnit = pick(ofClass(model.parts, 'lower-unit'));
    if (!powerhead || !lowerUnit) return undefined;
    const halves = { powerhead: powerhead.serial, lowerUnit: lowerUnit.serial };
    return {
      ask: () => plant.post('set', '/v1/sets', { ...halves, order: number, station: 'SET-1' }),
      allowed:
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
  start: ({ plant, model, cells }, pick) => {
    const motor = pick(mostlyAlive(model));
    const cell = pick(cells);
    if (!motor || !cell) return undefined;
    return {
      ask: () => plant.post('cell', '/v1/runs', { motor: motor.serial, cell }),
      allowed: motor.state === 'awaiting-test' && !model.isHeld(motor) && model.isCellFree(cell),
      apply: ({ id }) => {
        Object.assign(motor, { state: 'in-test', runId: Number(id), runOpen: true, cell });
      },
    };
  },
  fail: (world, pick) => completion(world, pick(mostlyAlive(world.model)), 'fail'),
  abort: ({ plant, model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor?.runId) return undefined;
    return {
      ask: () => plant.post('cell', `/v1/runs/${motor.runId}/abort`, { reason }),
      allowed: motor.runOpen,
      apply: () => model.endRun(motor, null, null),
    };
  },
  pass: (world, pick) => completion(world, pick(mostlyAlive(world.model)), 'pass'),
  openRepair: ({ plant, model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    return {
      ask: () => plant.post('repair', '/v1/repairs', { motor: motor.serial, complaint: reason }),
      allowed: ['awaiting-test', 'passed'].includes(motor.state),
      apply: ({ id }) => {
        motor.state = 'in-repair';
        motor.repair = { id: Number(id), open: true, afterFailedRun: false, exchanges: 0 };
      },
    };
  },
  closeRepair: ({ plant, model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor?.repair) return undefined;
    const codes = { symptom: 'low-pressure', cause: 'impeller', action: 'replaced' };
    return {
      ask: () => plant.post('repair', `/v1/repairs/${motor.repair?.id}/closure`, codes),
      allowed: motor.repair.open && model.isWhole(motor),
      apply: () => {
        motor.repaired = true;
        model.endRepair(motor, 'awaiting-test');
      },
    };
  },
  takeOut: (world, pick) => exchange(world, pick, true, false),
  putIn: (world, pick) => exchange(world, pick, false, true),
  swap: (world, pick) => exchange(world, pick, true, true),
  retest: ({ plant, model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    const untouched = !motor.repair?.open || motor.repair.exchanges === 0;
    return {
      ask: () => plant.post('quality', '/v1/retests', { motor: motor.serial, reason }),
      allowed: ['in-repair', 'passed'].includes(motor.state) && untouched,
      apply: () => model.endRepair(motor, 'awaiting-test'),
    };
  },
  concession: ({ plant, model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    const repair = motor.repair?.open ? motor.repair : null;
    return {
      ask: () => dispose(plant, motor, 'concession'),
      allowed: repair?.afterFailedRun === true && repair.exchanges === 0,
      apply: () => model.endRepair(motor, 'passed'),
    };
  },
  scrap: ({ plant, model }, pick) => {
    const unit = pick(model.units);
    if (!unit) return undefined;
    const motor = model.motors.find((one) => one === unit);
    return {
      ask: () => dispose(plant, unit, 'scrap'),
      allowed: ![...ended, 'in-test', 'installed'].includes(unit.state),
      apply: () => {
        if (motor) model.endRepair(motor, 'scrapped');
        unit.state = 'scrapped';
        model.setCount -= motor ? 1 : 0;
      },
    };
  },
  tearDown: ({ plant, model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    return {
      ask: () => plant.post('quality', '/v1/teardowns', { motor: motor.serial, reason }),
      allowed: ![...ended, 'in-test'].includes(motor.state) && model.isWhole(motor),
      apply: () => {
        model.endRepair(motor, 'torn-down');
        for (const half of model.inside(motor)) model.take(half, 'accepted');
        model.setCount -= 1;
      },
    };
  },
  hold: ({ plant, model }, pick) => {
    const unit = pick(model.units);
    if (!unit) return undefined;
    const body = { class: unit.class, unit: unit.serial, cause: 'quality', reason };
    return {
      ask: () => plant.post('quality', '/v1/holds', body),
      allowed: unit.state !== 'scrapped',
      apply: ({ id }) => {
        unit.openHolds += 1;
        model.holds.push({ id: Number(id), unit, open: true });
      },
    };
  },
  lift: ({ plant, model }, pick) => {
    const hold = pick(model.holds);
    if (!hold) return undefined;
    return {
      ask: () => plant.post('quality', `/v1/holds/${hold.id}/lift`, { reason }),
      allowed: hold.open,
      apply: () => {
        hold.open = false;
        hold.unit.openHolds -= 1;
      },
    };
  },
  inspect: ({ plant, model }, pick) => {
    const unit = pick(model.parts);
    if (!unit) return undefined;
    const body = { class: unit.class, unit: unit.serial, result: 'accepted' };
    return {
      ask: () => plant.post('quality', '/v1/inspections', body),
      allowed: ['accepted', 'rejected'].includes(unit.state),
      apply: () => {
        unit.state = 'accepted';
      },
    };
  },
  release: ({ plant, model }, pick) => {
    const motor = pick(mostlyAlive(model));
    if (!motor) return undefined;
    return {
      ask: () => plant.post('quality', '/v1/releases', { motors: [motor.serial] }),
      allowed: motor.state === 'passed' && !model.isHeld(motor),
      apply: () => {
        motor.state = 'released';
      },
    };
  },
};

function completion(
  { plant, model }: World,
  motor: ModelMotor | undefined,
  verdict: 'pass' | 'fail',
) {
  if (!motor?.runId) return undefined;
  const readings = verdict === 'pass' ? passing : failing;
  return {
    ask: () => plant.post('cell', `/v1/runs/${motor.runId}/completion`, { readings }),
    allowed: motor.runOpen,
    apply: ({ repair }: Record<string, unknown>) =>
      model.endRun(motor, verdict, repair === null ? null : Number(repair)),
  };
}

function dispose(plant: TestPlant, { class: unitClass, serial: unit }: ModelUnit, kind: string) {
  return plant.post('quality', '/v1/dispositions', { class: unitClass, unit, kind, reason });
}

/** Takes a part out, puts one in, or both: a half of the motor, or the pump of a powerhead. */
function exchange(
  { plant, model }: World,
  pick: <T>(from: readonly T[]) => T | undefined,
  out: boolean,
  into: boolean,
): Step | undefined {
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
    ask: () =>
      plant.post('repair', `/v1/repairs/${repair.id}/exchanges`, {
        ...{ parentClass: parent.class, parent: parent.serial, position: unitClass },
        ...(removed ? { removed: removed.serial } : {}),
        ...(fitted ? { fitted: { class: fitted.class, serial: fitted.serial } } : {}),
      }),
    allowed:
      repair.open &&
      model.top(parent) === motor &&
      occupant === removed &&
      (fitted === undefined || model.isFree(fitted)),
    apply: () => {
      if (removed) model.take(removed, 'rejected');
      if (fitted) model.put(fitted, parent);
      repair.exchanges += 1;
    },
  };
}
