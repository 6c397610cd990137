import { addKey } from '../../../src/access/actions.js';
import type { Role } from '../../../src/access/schema.js';
import {
  addModel,
  addPart,
  addPartClass,
  addRepairCode,
  approveConfiguration,
  draftConfiguration,
} from '../../../src/catalogue/actions.js';
import {
  approveSpecification,
  draftSpecification,
} from '../../../src/catalogue/specification-actions.js';
import type { Command } from '../../../src/command.js';
import { readConfig } from '../../../src/config.js';
import { commandOf } from '../../../src/http/mount.js';
import { openOrder } from '../../../src/orders/actions.js';
import { packageFile } from '../../../src/package-root.js';
import { setPair } from '../../../src/pairing/actions.js';
import { connectPlant, type Plant } from '../../../src/plant.js';
import { Problem } from '../../../src/problems.js';
import { Store } from '../../../src/store/store.js';
import { startRun } from '../../../src/testing/actions.js';
import { enterUnit } from '../../../src/units/entry-actions.js';
import { fortyCharacteristics } from './readings.js';

export const MODEL = 'B100';
export const POWERHEAD = { number: 'BPH-100', revision: 'A' };
export const LOWER_UNIT = { number: 'BLU-20', revision: 'A' };
export const LOT_PART = { number: 'PRIMER', revision: '1' };
export const COMPONENT_CLASSES = ['starter', 'ecu', 'fuel-pump'] as const;
export const CONFIGURATION = 'B100-A';
/** A fastening inside its windows; invented. */
export const FASTENING = {
  joint: 'cylinder head 1',
  tool: 'DC-1',
  torque: 30.1,
  torqueLower: 28,
  torqueUpper: 32,
  torqueUnit: 'N.m',
  angle: 90.5,
  angleLower: 85,
  angleUpper: 95,
  angleUnit: 'deg',
};

/** The settings that the program has where nothing is said; the child process has the same. */
export const { settings } = readConfig([], {});

/** One key with every working role, and a second one that approves. */
const roles: Role[] = ['set', 'cell', 'repair', 'quality', 'configuration', 'read'];
const AUTHOR = 1;
const APPROVER = 2;

/** Commands prepared in one transaction: one fsync for many. */
const AT_ONCE = 200;

/** A plant's file opened for preparing, through the same actions that requests reach. */
export class PreparedPlant {
  readonly store: Store<Plant>;

  constructor(path: string) {
    this.store = new Store({
      path,
      migrationsFolder: packageFile('migrations'),
      connect: connectPlant,
    });
  }

  /** Carries out one command as the author or the approver. */
  do<T>(work: (command: Command) => T, keyId = AUTHOR): Promise<T> {
    return this.store.command((plant) => work(this.#commandFor(plant, keyId)));
  }

  /** Carries out a command for each number below `count`, many to a transaction. */
  async times<T>(count: number, work: (command: Command, i: number) => T): Promise<T[]> {
    const results: T[] = [];
    for (let from = 0; from < count; from += AT_ONCE) {
      const until = Math.min(from + AT_ONCE, count);
      const made = await this.do((command) =>
        Array.from({ length: until - from }, (_, i) => work(command, from + i)),
      );
      results.push(...made);
    }
    return results;
  }

  /** Issues the keys and brings the catalogue in force; returns the working key's token. */
  async furnish(): Promise<string> {
    const token = await this.store.command((plant) => {
      const [author] = ['bench', 'bench approver'].map((name) =>
        addKey(plant, { name, roles }, Date.now()),
      );
      if (!author) throw new Error('no key was made');
      return author.token;
    });
    await this.do(addCatalogue);
    const configurationId = await this.do(
      (command) =>
        draftConfiguration(command, {
          code: CONFIGURATION,
          model: MODEL,
          powerheadNumber: POWERHEAD.number,
          lowerUnitNumber: LOWER_UNIT.number,
        }).id,
    );
    await this.do((command) => approveConfiguration(command, configurationId, {}), APPROVER);
    const specificationId = await this.do(
      (command) => draftSpecification(command, fortyCharacteristics(MODEL)).id,
    );
    await this.do((command) => approveSpecification(command, specificationId, {}), APPROVER);
    return token;
  }

  /** A further working key; for a file whose first token is not at hand. */
  addKey(name: string): Promise<string> {
    return this.store.command((plant) => addKey(plant, { name, roles }, Date.now()).token);
  }

  /** Opens an order of a quantity. */
  order(number: string, quantity: number): Promise<unknown> {
    return this.do((command) =>
      openOrder(command, { number, model: MODEL, quantity, dueOn: '2030-01-01' }),
    );
  }

  /** Enters accepted halves, `count` of each. */
  pairs(count: number, prefix: string): Promise<Pair[]> {
    return this.times(count, (command, i) => enterPair(command, `${prefix}${i}`));
  }

  /** Sets motors; returns their serials. */
  async motors(count: number, prefix: string): Promise<string[]> {
    const order = `${prefix}-order`;
    await this.order(order, count);
    return this.times(count, (command, i) => {
      const pair = enterPair(command, `${prefix}${i}`);
      const done = setPair(command, { ...pair, order, station: `SET-${(i % 3) + 1}` });
      if (done instanceof Problem) throw done;
      return done.serial;
    });
  }

  /** Starts a run of each motor in a cell of its own, since a cell has one open run; returns ids. */
  startRuns(motors: readonly string[], prefix: string): Promise<number[]> {
    return this.times(motors.length, (command, i) => {
      return startRun(command, { motor: motors[i] ?? '', cell: `${prefix}-${i}` }).id;
    });
  }

  close(): void {
    this.store.optimize();
    this.store.close();
  }

  #commandFor(plant: Plant, keyId: number): Command {
    const actor = { keyId, name: 'bench', roles };
    return commandOf(plant, actor, Date.now(), settings);
  }
}

export interface Pair {
  powerhead: string;
  lowerUnit: string;
}

function enterPair(command: Command, serial: string): Pair {
  const inspection = { result: 'accepted' as const };
  const powerhead = enterUnit(command, {
    class: 'powerhead',
    serial: `P${serial}`,
    part: POWERHEAD,
    inspection,
    fastenings: [FASTENING],
  });
  const lowerUnit = enterUnit(command, {
    class: 'lower-unit',
    serial: `L${serial}`,
    part: LOWER_UNIT,
    inspection,
  });
  return { powerhead: powerhead.serial, lowerUnit: lowerUnit.serial };
}

function addCatalogue(command: Command): void {
  for (const code of COMPONENT_CLASSES) addPartClass(command, { code, name: code });
  addPart(command, { ...POWERHEAD, name: 'Powerhead', tracking: 'serial', class: 'powerhead' });
  addPart(command, { ...LOWER_UNIT, name: 'Lower unit', tracking: 'serial', class: 'lower-unit' });
  for (const code of COMPONENT_CLASSES) {
    addPart(command, { number: code, revision: 'A', name: code, tracking: 'serial', class: code });
  }
  addPart(command, { ...LOT_PART, name: 'Primer', tracking: 'lot' });
  addModel(command, {
    code: MODEL,
    name: 'Hundred, long shaft',
    ratedPowerKw: 73.5,
    attributes: { shaftLength: '508 mm', rotation: 'right' },
  });
  addRepairCode(command, { kind: 'symptom', code: 'low-voltage', name: 'Low voltage' });
  addRepairCode(command, { kind: 'cause', code: 'connector', name: 'Loose connector' });
  addRepairCode(command, { kind: 'action', code: 'replaced', name: 'Part replaced' });
}
