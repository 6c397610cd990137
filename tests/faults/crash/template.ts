import { cpSync, mkdirSync } from 'node:fs';
import { TestPlant } from '../../support/plant.js';
import { furnish } from '../../support/scenario.js';
import { ORDER, type Tokens } from './floor.js';

/** A data folder with its catalogue and an order for more motors than any test sets. */
export interface Template {
  /** A key for each role. */
  tokens: Tokens;
  /** Makes a data folder like it. */
  copyTo(folder: string): void;
}

/** The most that one order may ask for. */
const QUANTITY = 100_000;
/** What comes into force does so before the service to be killed starts. */
const EARLIER_MS = 60_000;

/** Makes a template in a folder that is not there yet. */
export async function templateIn(folder: string): Promise<Template> {
  mkdirSync(folder);
  const plant = await TestPlant.start(folder);
  plant.wait(Date.now() - plant.now - EARLIER_MS);
  await furnish(plant);
  const order = { number: ORDER, model: 'F100L', quantity: QUANTITY, dueOn: '2030-01-01' };
  await plant.make('configuration', '/v1/orders', order);
  await plant.service.stop();
  return { tokens: plant.tokens, copyTo: (to) => cpSync(folder, to, { recursive: true }) };
}
