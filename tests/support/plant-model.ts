/** A unit as the naive model keeps it: no tables, no events, just what stands where. */
export interface ModelUnit {
  class: 'motor' | 'powerhead' | 'lower-unit' | 'fuel-pump';
  serial: string;
  state: string;
  /** What it is in; a half's position is its class, and so is a pump's. */
  parent: ModelUnit | null;
  openHolds: number;
}

export interface ModelMotor extends ModelUnit {
  class: 'motor';
  runId: number | null;
  runOpen: boolean;
  cell: string;
  attempts: number;
  repaired: boolean;
  repair: ModelRepair | null;
}

export interface ModelRepair {
  id: number;
  open: boolean;
  afterFailedRun: boolean;
  exchanges: number;
}

export interface Tally {
  firstRuns: number;
  firstPasses: number;
  completedRuns: number;
  passedRuns: number;
  abortedRuns: number;
}

/** The plant's rules once more, as plainly as they can be said, to compare the service with. */
export class PlantModel {
  readonly parts: ModelUnit[] = [];
  readonly motors: ModelMotor[] = [];
  readonly holds: { id: number; unit: ModelUnit; open: boolean }[] = [];
  setCount = 0;

  constructor(
    readonly quantity: number,
    readonly tally: Tally,
  ) {}

  get units(): ModelUnit[] {
    return [...this.parts, ...this.motors];
  }

  inside(unit: ModelUnit): ModelUnit[] {
    return this.parts.filter((one) => one.parent === unit);
  }

  tree(unit: ModelUnit): ModelUnit[] {
    return [unit, ...this.inside(unit).flatMap((one) => this.tree(one))];
  }

  top(unit: ModelUnit): ModelUnit {
    return unit.parent ? this.top(unit.parent) : unit;
  }

  isHeld(unit: ModelUnit): boolean {
    return this.tree(unit).some((one) => one.openHolds > 0);
  }

  isFree(unit: ModelUnit): boolean {
    return unit.state === 'accepted' && unit.parent === null && !this.isHeld(unit);
  }

  occupant(parent: ModelUnit, unitClass: string): ModelUnit | undefined {
    return this.inside(parent).find((one) => one.class === unitClass);
  }

  isWhole(motor: ModelMotor): boolean {
    return ['powerhead', 'lower-unit'].every((half) => this.occupant(motor, half) !== undefined);
  }

  isCellFree(cell: string): boolean {
    return !this.motors.some((motor) => motor.runOpen && motor.cell === cell);
  }

  put(unit: ModelUnit, parent: ModelUnit): void {
    unit.parent = parent;
    unit.state = 'installed';
  }

  take(unit: ModelUnit, as: string): void {
    unit.parent = null;
    unit.state = as;
  }

  /** Ends the motor's run: `null` is an abort. */
  endRun(motor: ModelMotor, verdict: 'pass' | 'fail' | null, repair: number | null): void {
    motor.runOpen = false;
    if (verdict === null) {
      motor.state = 'awaiting-test';
      this.tally.abortedRuns += 1;
      return;
    }
    motor.attempts += 1;
    const passed = verdict === 'pass' ? 1 : 0;
    motor.state = passed ? 'passed' : 'in-repair';
    this.tally.completedRuns += 1;
    this.tally.passedRuns += passed;
    if (motor.attempts === 1) {
      this.tally.firstRuns += 1;
      this.tally.firstPasses += motor.repaired ? 0 : passed;
    }
    if (repair === null) return;
    motor.repair = { id: repair, open: true, afterFailedRun: true, exchanges: 0 };
  }

  endRepair(motor: ModelMotor, state: string): void {
    motor.state = state;
    if (motor.repair) motor.repair.open = false;
  }
}
