import { minutes, type Process, seconds } from './agenda.js';
import type { Caller } from './caller.js';
import type { Floor, Remedy, RepairJob } from './floor.js';
import { Random } from './random.js';

const STATION = 'BENCH';

interface TreeNode {
  class: string;
  serial: string;
  part: string | null;
  position: string | null;
  parent: string | null;
}

/** A technician at the repair bench: one motor after the other, the longest waiting first. */
export class Technician {
  readonly #random: Random;

  constructor(
    private readonly caller: Caller,
    private readonly floor: Floor,
    number: number,
  ) {
    this.#random = Random.stream(300 + number);
  }

  async *work(): Process {
    for (;;) {
      const job = this.floor.toRepair.shift();
      if (job) yield* this.#repair(job);
      else yield seconds(45);
    }
  }

  async *#repair({ motor, repair, fault, remedy }: RepairJob): Process {
    if (remedy.kind !== 'adjust' && remedy.kind !== 'exchange') return;
    yield minutes(this.#random.between(7, 13));
    if (remedy.kind === 'exchange') await this.#exchange(motor.serial, repair, remedy);
    yield minutes(this.#random.between(8, 16));
    await this.caller.tell(`/v1/repairs/${repair}/closure`, {
      symptom: fault.symptom,
      cause: remedy.cause,
      action: remedy.action,
      station: STATION,
    });
    motor.remediesTried += 1;
    if (motor.remediesTried === fault.remedies.length) motor.fault = null;
    this.floor.toTest.push(motor);
  }

  /** Finds the part in the motor's tree, and exchanges it for one from the store. */
  async #exchange(
    motor: string,
    repair: number,
    { positions }: Remedy & { kind: 'exchange' },
  ): Promise<void> {
    const { tree } = await this.caller.ask<{ tree: TreeNode[] }>(
      `/v1/history?class=motor&serial=${motor}`,
    );
    const found = positions
      .map((position) => tree.find((node) => node.position === position))
      .find((node) => node !== undefined);
    const parent = tree.find((node) => node.serial === found?.parent);
    if (!found || !parent) throw new Error(`${motor} has no ${positions.join(' and no ')}`);
    const place = this.floor.spares.findIndex((spare) => spare.part === found.part);
    const [spare] = this.floor.spares.splice(place, 1);
    if (!spare || place === -1) throw new Error(`no ${found.part} is left in the store`);
    await this.caller.tell(`/v1/repairs/${repair}/exchanges`, {
      parentClass: parent.class,
      parent: parent.serial,
      position: found.position,
      removed: found.serial,
      removedAs: 'rejected',
      fitted: { class: spare.class, serial: spare.serial },
      station: STATION,
    });
  }
}

/** A motor that was set with the wrong gasket is taken apart; both halves are set again. */
export async function* tearOneDown(caller: Caller, floor: Floor): Process {
  let place = -1;
  while (place === -1) {
    yield minutes(1);
    place = floor.toTest.findIndex((motor) => motor.fault === null);
  }
  const [motor] = floor.toTest.splice(place, 1);
  if (!motor) return;
  await caller.tell('/v1/teardowns', {
    motor: motor.serial,
    reason: 'Set with the wrong gasket between powerhead and lower unit.',
    station: STATION,
  });
  yield minutes(25);
  floor.putBack(motor.powerhead);
  floor.putBack(motor.lowerUnit);
}
