import type { Database } from 'better-sqlite3';
import type { Attributes } from '../http/shapes.js';
import { nextIdOn } from '../store/next-id.js';

export interface PartRow {
  id: number;
  number: string;
  revision: string;
  name: string;
  tracking: 'serial' | 'lot';
  class: string | null;
  gtin: string | null;
  attributes: Attributes;
}

export interface ModelRow {
  id: number;
  code: string;
  name: string;
  ratedPowerKw: number;
  attributes: Attributes;
}

/** The members of a configuration that its draft decides. */
export interface ConfigurationTerms {
  modelId: number;
  powerheadNumber: string;
  powerheadRevision: string | null;
  lowerUnitNumber: string;
  lowerUnitRevision: string | null;
  attributes: Attributes;
  discontinued: boolean;
  effectiveFromMs: number | null;
}

export interface ConfigurationRow extends ConfigurationTerms {
  id: number;
  code: string;
  revision: number;
  state: 'draft' | 'approved';
  version: number;
  model: string;
  draftedById: number;
  draftedBy: string;
  draftedAtMs: number;
  approvedBy: string | null;
  approvedAtMs: number | null;
}

export interface RepairCode {
  kind: 'symptom' | 'cause' | 'action';
  code: string;
  name: string;
}

type Stored<T> = Omit<T, 'attributes' | 'discontinued'> & { attributes: string };

const withAttributes = <T extends { attributes: string }>(row: T) => ({
  ...row,
  attributes: JSON.parse(row.attributes) as Attributes,
});

const partColumns = 'id, number, revision, name, tracking, class, gtin, attributes';
const modelColumns = 'id, code, name, rated_power_kw AS ratedPowerKw, attributes';
const configurationColumns = `
  c.id,
  c.code,
  c.revision,
  c.state,
  c.version,
  c.model_id AS modelId,
  m.code AS model,
  c.powerhead_number AS powerheadNumber,
  c.powerhead_revision AS powerheadRevision,
  c.lower_unit_number AS lowerUnitNumber,
  c.lower_unit_revision AS lowerUnitRevision,
  c.attributes,
  c.discontinued,
  c.effective_from_ms AS effectiveFromMs,
  c.drafted_by AS draftedById,
  author.name AS draftedBy,
  c.drafted_at_ms AS draftedAtMs,
  approver.name AS approvedBy,
  c.approved_at_ms AS approvedAtMs
FROM configurations c
JOIN models m ON m.id = c.model_id
JOIN api_keys author ON author.id = c.drafted_by
LEFT JOIN api_keys approver ON approver.id = c.approved_by`;

/** A revision is in force until a later approved one of the same code takes effect. */
const inForceAt = `
  c.state = 'approved'
  AND c.effective_from_ms <= @atMs
  AND NOT EXISTS (
    SELECT 1 FROM configurations later
    WHERE later.code = c.code
      AND later.state = 'approved'
      AND later.effective_from_ms <= @atMs
      AND later.effective_from_ms > c.effective_from_ms)`;

type StoredConfiguration = Stored<ConfigurationRow> & { discontinued: number };
const decodeConfiguration = (row: StoredConfiguration): ConfigurationRow => ({
  ...withAttributes(row),
  discontinued: row.discontinued === 1,
});

/** The catalogue's SQL on one connection: parts, models, configurations, repair codes. */
export function catalogueRecords(db: Database) {
  return { ...partStatements(db), ...configurationStatements(db), ...repairCodeStatements(db) };
}

function partStatements(db: Database) {
  const hasClass = db.prepare<[string]>('SELECT 1 FROM part_classes WHERE code = ?');
  const addClass = db.prepare('INSERT INTO part_classes (code, name) VALUES (?, ?)');
  const classes = db.prepare<[], { code: string; name: string }>(
    'SELECT code, name FROM part_classes ORDER BY code',
  );
  const part = db.prepare<[string, string], Stored<PartRow>>(
    `SELECT ${partColumns} FROM parts WHERE number = ? AND revision = ?`,
  );
  const anyRevision = db.prepare<[string], Stored<PartRow>>(
    `SELECT ${partColumns} FROM parts WHERE number = ? ORDER BY id LIMIT 1`,
  );
  const parts = db.prepare<[number, number], Stored<PartRow>>(
    `SELECT ${partColumns} FROM parts WHERE id > ? ORDER BY id LIMIT ?`,
  );
  const addPart = db.prepare(`
    INSERT INTO parts (id, number, revision, name, tracking, class, gtin, attributes)
    VALUES (@id, @number, @revision, @name, @tracking, @class, @gtin, @attributes)`);
  const model = db.prepare<[string], Stored<ModelRow>>(
    `SELECT ${modelColumns} FROM models WHERE code = ?`,
  );
  const modelById = db.prepare<[number], Stored<ModelRow>>(
    `SELECT ${modelColumns} FROM models WHERE id = ?`,
  );
  const models = db.prepare<[number, number], Stored<ModelRow>>(
    `SELECT ${modelColumns} FROM models WHERE id > ? ORDER BY id LIMIT ?`,
  );
  const addModel = db.prepare(`
    INSERT INTO models (id, code, name, rated_power_kw, attributes)
    VALUES (@id, @code, @name, @ratedPowerKw, @attributes)`);

  const decoded = <T extends { attributes: string }>(row: T | undefined) =>
    row ? withAttributes(row) : undefined;
  return {
    hasClass: (code: string) => hasClass.get(code) !== undefined,
    addClass: (code: string, name: string) => void addClass.run(code, name),
    classes: () => classes.all(),
    part: (number: string, revision: string): PartRow | undefined =>
      decoded(part.get(number, revision)),
    /** Some revision of a number, to learn what class it is of. */
    anyRevision: (number: string): PartRow | undefined => decoded(anyRevision.get(number)),
    parts: (afterId: number, limit: number): PartRow[] =>
      parts.all(afterId, limit).map(withAttributes),
    nextPartId: nextIdOn(db, 'parts'),
    addPart: (row: PartRow) =>
      void addPart.run({ ...row, attributes: JSON.stringify(row.attributes) }),
    model: (code: string): ModelRow | undefined => decoded(model.get(code)),
    modelById: (id: number): ModelRow | undefined => decoded(modelById.get(id)),
    models: (afterId: number, limit: number): ModelRow[] =>
      models.all(afterId, limit).map(withAttributes),
    nextModelId: nextIdOn(db, 'models'),
    addModel: (row: ModelRow) =>
      void addModel.run({ ...row, attributes: JSON.stringify(row.attributes) }),
  };
}

export interface ConfigurationFilter {
  code: string | null;
  model: string | null;
  state: string | null;
  inForceAtMs: number | null;
}

function configurationStatements(db: Database) {
  const byId = db.prepare<[number], StoredConfiguration>(
    `SELECT ${configurationColumns} WHERE c.id = ?`,
  );
  const draftOf = db.prepare<[string], StoredConfiguration>(
    `SELECT ${configurationColumns} WHERE c.code = ? AND c.state = 'draft'`,
  );
  const list = db.prepare<
    [ConfigurationFilter & { atMs: number | null; afterId: number; limit: number }],
    StoredConfiguration
  >(`SELECT ${configurationColumns}
    WHERE c.id > @afterId
      AND (@code IS NULL OR c.code = @code)
      AND (@model IS NULL OR m.code = @model)
      AND (@state IS NULL OR c.state = @state)
      AND (@inForceAtMs IS NULL OR (c.discontinued = 0 AND ${inForceAt}))
    ORDER BY c.id
    LIMIT @limit`);
  // Reads configurations_by_parts.
  const takingPair = db.prepare<
    [
      {
        powerhead: string;
        powerheadRevision: string;
        lower: string;
        lowerRevision: string;
        atMs: number;
      },
    ],
    StoredConfiguration
  >(`SELECT ${configurationColumns}
    WHERE c.powerhead_number = @powerhead
      AND c.lower_unit_number = @lower
      AND (c.powerhead_revision IS NULL OR c.powerhead_revision = @powerheadRevision)
      AND (c.lower_unit_revision IS NULL OR c.lower_unit_revision = @lowerRevision)
      AND c.discontinued = 0
      AND ${inForceAt}
    ORDER BY c.id`);
  const ofModel = db.prepare<[{ modelId: number; atMs: number }], StoredConfiguration>(
    `SELECT ${configurationColumns}
    WHERE c.model_id = @modelId AND c.discontinued = 0 AND ${inForceAt}
    ORDER BY c.id`,
  );
  const lastOf = db.prepare<[string], { revision: number; effectiveFromMs: number | null }>(`
    SELECT COALESCE(MAX(revision), 0) AS revision, MAX(effective_from_ms) AS effectiveFromMs
    FROM configurations
    WHERE code = ? AND state = 'approved'`);
  const add = db.prepare(`
    INSERT INTO configurations
      (id, code, revision, model_id, discontinued, powerhead_number, powerhead_revision,
       lower_unit_number, lower_unit_revision, attributes, state, version, effective_from_ms,
       drafted_by, drafted_at_ms)
    VALUES
      (@id, @code, @revision, @modelId, @discontinued, @powerheadNumber, @powerheadRevision,
       @lowerUnitNumber, @lowerUnitRevision, @attributes, 'draft', 1, @effectiveFromMs,
       @draftedById, @draftedAtMs)`);
  const revise = db.prepare(`
    UPDATE configurations
    SET model_id = @modelId,
        discontinued = @discontinued,
        powerhead_number = @powerheadNumber,
        powerhead_revision = @powerheadRevision,
        lower_unit_number = @lowerUnitNumber,
        lower_unit_revision = @lowerUnitRevision,
        attributes = @attributes,
        effective_from_ms = @effectiveFromMs,
        drafted_by = @draftedById,
        version = version + 1
    WHERE id = @id`);
  const approve = db.prepare(`
    UPDATE configurations
    SET state = 'approved',
        version = version + 1,
        effective_from_ms = @effectiveFromMs,
        approved_by = @approvedById,
        approved_at_ms = @approvedAtMs
    WHERE id = @id`);

  const encode = <T extends ConfigurationTerms>(terms: T) => ({
    ...terms,
    attributes: JSON.stringify(terms.attributes),
    discontinued: terms.discontinued ? 1 : 0,
  });
  const decoded = (row: StoredConfiguration | undefined) =>
    row ? decodeConfiguration(row) : undefined;
  return {
    configuration: (id: number) => decoded(byId.get(id)),
    configurationDraft: (code: string) => decoded(draftOf.get(code)),
    configurations: (filter: ConfigurationFilter, afterId: number, limit: number) =>
      list.all({ ...filter, atMs: filter.inForceAtMs, afterId, limit }).map(decodeConfiguration),
    /** Those in force at a time that take this powerhead part and this lower-unit part. */
    configurationsTaking: (
      powerhead: { number: string; revision: string },
      lower: { number: string; revision: string },
      atMs: number,
    ) =>
      takingPair
        .all({
          powerhead: powerhead.number,
          powerheadRevision: powerhead.revision,
          lower: lower.number,
          lowerRevision: lower.revision,
          atMs,
        })
        .map(decodeConfiguration),
    configurationsOfModel: (modelId: number, atMs: number) =>
      ofModel.all({ modelId, atMs }).map(decodeConfiguration),
    /** The last approved revision of a code: 0 and null where there is none. */
    lastConfiguration: (code: string) => lastOf.get(code) ?? { revision: 0, effectiveFromMs: null },
    nextConfigurationId: nextIdOn(db, 'configurations'),
    addConfiguration: (
      row: ConfigurationTerms & {
        id: number;
        code: string;
        revision: number;
        draftedById: number;
        draftedAtMs: number;
      },
    ) => void add.run(encode(row)),
    reviseConfiguration: (row: ConfigurationTerms & { id: number; draftedById: number }) =>
      void revise.run(encode(row)),
    approveConfiguration: (row: {
      id: number;
      effectiveFromMs: number;
      approvedById: number;
      approvedAtMs: number;
    }) => void approve.run(row),
  };
}

function repairCodeStatements(db: Database) {
  const find = db.prepare<[string, string], RepairCode>(
    'SELECT kind, code, name FROM repair_codes WHERE kind = ? AND code = ?',
  );
  const list = db.prepare<[], RepairCode>(
    'SELECT kind, code, name FROM repair_codes ORDER BY kind, code',
  );
  const add = db.prepare(
    'INSERT INTO repair_codes (kind, code, name) VALUES (@kind, @code, @name)',
  );
  return {
    repairCode: (kind: RepairCode['kind'], code: string) => find.get(kind, code),
    repairCodes: () => list.all(),
    addRepairCode: (row: RepairCode) => void add.run(row),
  };
}
