import { createHash } from 'node:crypto';
import type { Database } from 'better-sqlite3';
import { connectPlant } from '../../../src/plant.js';
import { packJudged, packReadings } from '../../../src/testing/packing.js';
import { judgeRun } from '../../../src/testing/rules.js';
import { COMPONENT_CLASSES, LOT_PART, LOWER_UNIT, MODEL, POWERHEAD } from '../support/plant.js';
import { readingsOf, repeatable } from '../support/readings.js';

/** A run's readings, made and judged once and used for many runs. */
export interface SampleRun {
  packed: Buffer;
  judged: Buffer;
  /** SHA-256 of the packed readings, in hex. */
  digest: string;
  /** Characteristics that did not conform: codes, and row ids. */
  failed: string[];
  failedIds: number[];
}

/** What a motor's rows refer to. */
export interface Catalogue {
  modelId: number;
  powerheadPartId: number;
  lowerUnitPartId: number;
  lotPartId: number;
  components: { class: string; partId: number }[];
  configurationId: number;
  specificationId: number;
  passing: SampleRun[];
  failing: SampleRun[];
}

const SAMPLES = 512;

/** Looks up what `furnish` made, and judges the sample runs by its specification. */
export function readCatalogue(db: Database): Catalogue {
  const plant = connectPlant(db);
  const model = plant.catalogue.model(MODEL);
  const specification = plant.specifications.inForce(model?.id ?? 0, Date.now());
  const [configuration] = plant.catalogue.configurationsOfModel(model?.id ?? 0, Date.now());
  if (!model || !specification || !configuration) throw new Error('the catalogue is not furnished');
  const partId = (part: { number: string; revision: string }) => {
    const row = plant.catalogue.part(part.number, part.revision);
    if (!row) throw new Error(`there is no part ${part.number}`);
    return row.id;
  };
  const { characteristics, characteristicIds } = specification;
  const random = repeatable(11);
  const sample = (conforming: boolean): SampleRun => {
    const readings = readingsOf(random, conforming).map((one) => ({
      ...one,
      unit: one.unit ?? null,
    }));
    const answer = judgeRun(characteristics, readings);
    if (!answer.complete) throw new Error('the sample readings are not complete');
    const { judgements, failed } = answer.run;
    const packed = packReadings(characteristics, readings);
    return {
      packed,
      judged: packJudged(judgements.map((one) => one.value)),
      digest: createHash('sha256').update(packed).digest('hex'),
      failed,
      failedIds: characteristicIds.filter((_, i) =>
        failed.includes(characteristics[i]?.code ?? ''),
      ),
    };
  };
  return {
    modelId: model.id,
    powerheadPartId: partId(POWERHEAD),
    lowerUnitPartId: partId(LOWER_UNIT),
    lotPartId: partId(LOT_PART),
    components: COMPONENT_CLASSES.map((code) => ({
      class: code,
      partId: partId({ number: code, revision: 'A' }),
    })),
    configurationId: configuration.id,
    specificationId: specification.id,
    passing: Array.from({ length: SAMPLES }, () => sample(true)),
    failing: Array.from({ length: SAMPLES }, () => sample(false)),
  };
}
