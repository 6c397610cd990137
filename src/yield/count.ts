import type { Plant } from '../plant.js';
import { NOTHING, type YieldKey } from './records.js';

/** A completed run as its event states it. */
export interface CompletedRun {
  id: number;
  motorId: number;
  attempt: number;
  verdict: 'pass' | 'fail';
  /** Null for any but the motor's first completed run. */
  firstPass: boolean | null;
  /** Characteristics that did not conform. */
  defects: number;
  counted: YieldKey;
}

/**
 * Counts a completed run under its own key, and what became of the motor under the key of
 * its first completed run, which may lie in another month, cell and shift.
 */
export function countCompletion(plant: Plant, run: CompletedRun): void {
  const { id, motorId, counted, defects } = run;
  const passed = run.verdict === 'pass';
  const firstPass = run.firstPass ?? false;
  const own = { ...NOTHING, completedRuns: 1, passedRuns: Number(passed), defects };
  if (run.attempt > 1) {
    plant.yield.count(counted, own);
    changeOutcome(plant, motorId, passed);
    return;
  }
  plant.yield.count(counted, {
    ...own,
    firstRuns: 1,
    firstPasses: Number(firstPass),
    finallyPassed: Number(passed),
    reworked: Number(passed && !firstPass),
    firstDefects: defects,
  });
  plant.yield.addMotor({ motorId, runId: id, firstPass, finallyPassed: passed, ...counted });
}

/** Counts a run that ended without a verdict. */
export function countAbort(plant: Plant, counted: YieldKey): void {
  plant.yield.count(counted, { ...NOTHING, abortedRuns: 1 });
}

function changeOutcome(plant: Plant, motorId: number, passed: boolean): void {
  const motor = plant.yield.motor(motorId);
  if (!motor) throw new Error(`motor ${motorId} has no first completed run`);
  if (motor.finallyPassed === passed) return;
  const change = passed ? 1 : -1;
  plant.yield.changeFinally(motor, {
    finallyPassed: change,
    reworked: motor.firstPass ? 0 : change,
  });
  plant.yield.setFinally(motor, passed);
}
