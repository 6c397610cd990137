import fc from 'fast-check';
import { resetNumbers } from './numbers.js';

/**
 * Property tests draw the same cases in every run, so that a check fails for what was
 * changed and not for the day. PROPERTY_SEED=random explores, PROPERTY_RUNS=1000 goes on longer;
 * a failure prints the seed that brings it back.
 */
const wanted = process.env.PROPERTY_SEED ?? '20261125';
const seed = wanted === 'random' ? Date.now() : Number(wanted);
if (!Number.isSafeInteger(seed)) throw new Error(`PROPERTY_SEED is no whole number: ${wanted}`);
const runs = process.env.PROPERTY_RUNS;

fc.configureGlobal({ seed, ...(runs === undefined ? {} : { numRuns: Number(runs) }) });
resetNumbers();
