import type { Database } from 'better-sqlite3';
import { merged } from '../merged.js';
import { nextIdOn } from '../store/next-id.js';
import type { Characteristic } from '../testing/rules.js';

export interface Prompt {
  text: string;
  caution: string | null;
  characteristics: Characteristic[];
}

/** The members of a specification that its draft decides. */
export interface SpecificationTerms {
  note: string;
  effectiveFromMs: number | null;
  prompts: Prompt[];
}

export interface SpecificationHead {
  id: number;
  modelId: number;
  model: string;
  revision: number;
  note: string;
  state: 'draft' | 'approved';
  version: number;
  effectiveFromMs: number | null;
  draftedById: number;
  draftedBy: string;
  draftedAtMs: number;
  approvedBy: string | null;
  approvedAtMs: number | null;
}

interface Content {
  prompts: Prompt[];
  /** All characteristics in order; a reading is stored under its index here. */
  characteristics: readonly Characteristic[];
  /** Row ids in the same order. */
  characteristicIds: readonly number[];
}

export interface SpecificationRow extends SpecificationHead, Content {}

interface StoredCharacteristic {
  id: number;
  promptPosition: number;
  code: string;
  name: string;
  kind: 'measured' | 'attribute' | 'derived';
  required: number;
  expected: number | null;
  unit: string;
  lower: number | null;
  upper: number | null;
  guardBand: number;
  nominal: number | null;
  standardUncertainty: number | null;
  decimals: number;
  derivation: string;
}

function decode(row: StoredCharacteristic): Characteristic {
  const common = { code: row.code, name: row.name, required: row.required === 1 };
  if (row.kind === 'attribute')
    return { kind: 'attribute', ...common, expected: row.expected === 1 };
  const { unit, lower, upper, guardBand, nominal, standardUncertainty, decimals } = row;
  const judged = { unit, lower, upper, guardBand, nominal, standardUncertainty, decimals };
  if (row.kind === 'measured') return { kind: 'measured', ...common, ...judged };
  return { kind: 'derived', ...common, ...judged, derivation: JSON.parse(row.derivation) };
}

function encode(one: Characteristic) {
  const empty = {
    expected: null,
    unit: null,
    lower: null,
    upper: null,
    guardBand: null,
    nominal: null,
    standardUncertainty: null,
    decimals: null,
    derivation: null,
  };
  const required = one.required ? 1 : 0;
  if (one.kind === 'attribute')
    return { ...empty, ...one, required, expected: one.expected ? 1 : 0 };
  const derivation = one.kind === 'derived' ? JSON.stringify(one.derivation) : null;
  return { ...empty, ...one, required, derivation };
}

const headColumns = `
  s.id,
  s.model_id AS modelId,
  m.code AS model,
  s.revision,
  s.note,
  s.state,
  s.version,
  s.effective_from_ms AS effectiveFromMs,
  s.drafted_by AS draftedById,
  author.name AS draftedBy,
  s.drafted_at_ms AS draftedAtMs,
  approver.name AS approvedBy,
  s.approved_at_ms AS approvedAtMs
FROM specifications s
JOIN models m ON m.id = s.model_id
JOIN api_keys author ON author.id = s.drafted_by
LEFT JOIN api_keys approver ON approver.id = s.approved_by`;

/** Approved specifications whose content is kept decoded: it never changes, and every run needs one. */
const REMEMBERED = 200;

/** Specifications' SQL on one connection. */
export function specificationRecords(db: Database) {
  const head = db.prepare<[number], SpecificationHead>(`SELECT ${headColumns} WHERE s.id = ?`);
  const draftOf = db.prepare<[number], SpecificationHead>(
    `SELECT ${headColumns} WHERE s.model_id = ? AND s.state = 'draft'`,
  );
  const inForce = db.prepare<[number, number], { id: number }>(`
    SELECT id FROM specifications
    WHERE model_id = ? AND state = 'approved' AND effective_from_ms <= ?
    ORDER BY effective_from_ms DESC
    LIMIT 1`);
  const list = db.prepare<
    [{ afterId: number; limit: number; model: string | null; state: string | null }],
    SpecificationHead
  >(`SELECT ${headColumns}
    WHERE s.id > @afterId
      AND (@model IS NULL OR m.code = @model)
      AND (@state IS NULL OR s.state = @state)
    ORDER BY s.id
    LIMIT @limit`);
  const last = db.prepare<[number], { revision: number; effectiveFromMs: number | null }>(`
    SELECT COALESCE(MAX(revision), 0) AS revision, MAX(effective_from_ms) AS effectiveFromMs
    FROM specifications
    WHERE model_id = ? AND state = 'approved'`);
  const addHead = db.prepare(`
    INSERT INTO specifications
      (id, model_id, revision, note, state, version, effective_from_ms, drafted_by, drafted_at_ms)
    VALUES (@id, @modelId, @revision, @note, 'draft', 1, @effectiveFromMs, @draftedById, @draftedAtMs)`);
  const reviseHead = db.prepare(`
    UPDATE specifications
    SET note = @note,
        effective_from_ms = @effectiveFromMs,
        drafted_by = @draftedById,
        version = version + 1
    WHERE id = @id`);
  const approve = db.prepare(`
    UPDATE specifications
    SET state = 'approved',
        version = version + 1,
        effective_from_ms = @effectiveFromMs,
        approved_by = @approvedById,
        approved_at_ms = @approvedAtMs
    WHERE id = @id`);
  const contents = contentStatements(db);
  const remembered = new Map<number, { version: number; content: Content }>();

  /** By its version too: an approval that was undone may be followed by another content. */
  function contentOf({ id, state, version }: SpecificationHead): Content {
    if (state !== 'approved') return contents.read(id);
    const known = remembered.get(id);
    if (known?.version === version) return known.content;
    if (remembered.size >= REMEMBERED) remembered.clear();
    const content = contents.read(id);
    remembered.set(id, { version, content });
    return content;
  }
  /** The head is read anew: a person whose name it tells may have been given a number since. */
  function whole(row: SpecificationHead | undefined): SpecificationRow | undefined {
    return row && merged(row, contentOf(row));
  }
  const specification = (id: number) => whole(head.get(id));

  return {
    specification,
    specificationDraft: (modelId: number) => whole(draftOf.get(modelId)),
    /** The revision in force for a model at a time. */
    inForce(modelId: number, atMs: number): SpecificationRow | undefined {
      const row = inForce.get(modelId, atMs);
      return row && specification(row.id);
    },
    list: (
      filter: { model: string | null; state: string | null },
      afterId: number,
      limit: number,
    ) => list.all({ ...filter, afterId, limit }),
    last: (modelId: number) => last.get(modelId) ?? { revision: 0, effectiveFromMs: null },
    nextId: nextIdOn(db, 'specifications'),
    add(
      row: SpecificationTerms & {
        id: number;
        modelId: number;
        revision: number;
        draftedById: number;
        draftedAtMs: number;
      },
    ): void {
      addHead.run(row);
      contents.write(row.id, row.prompts);
    },
    revise(row: SpecificationTerms & { id: number; draftedById: number }): void {
      reviseHead.run(row);
      contents.clear(row.id);
      contents.write(row.id, row.prompts);
    },
    approve: (row: {
      id: number;
      effectiveFromMs: number;
      approvedById: number;
      approvedAtMs: number;
    }) => void approve.run(row),
  };
}

function contentStatements(db: Database) {
  const prompts = db.prepare<[number], { position: number; text: string; caution: string | null }>(
    'SELECT position, text, caution FROM prompts WHERE specification_id = ? ORDER BY position',
  );
  const characteristics = db.prepare<[number], StoredCharacteristic>(`
    SELECT id,
           prompt_position AS promptPosition,
           code,
           name,
           kind,
           required,
           expected,
           unit,
           lower_limit AS lower,
           upper_limit AS upper,
           guard_band AS guardBand,
           nominal,
           standard_uncertainty AS standardUncertainty,
           decimals,
           derivation
    FROM characteristics
    WHERE specification_id = ?
    ORDER BY position`);
  const addPrompt = db.prepare(
    'INSERT INTO prompts (specification_id, position, text, caution) VALUES (?, ?, ?, ?)',
  );
  const addCharacteristic = db.prepare(`
    INSERT INTO characteristics
      (specification_id, position, prompt_position, code, name, kind, required, expected, unit,
       lower_limit, upper_limit, guard_band, nominal, standard_uncertainty, decimals, derivation)
    VALUES
      (@specificationId, @position, @promptPosition, @code, @name, @kind, @required, @expected,
       @unit, @lower, @upper, @guardBand, @nominal, @standardUncertainty, @decimals, @derivation)`);
  const clearCharacteristics = db.prepare('DELETE FROM characteristics WHERE specification_id = ?');
  const clearPrompts = db.prepare('DELETE FROM prompts WHERE specification_id = ?');
  return {
    read(id: number): Content {
      const rows = characteristics.all(id);
      return {
        prompts: prompts.all(id).map(({ position, text, caution }) => ({
          text,
          caution,
          characteristics: rows.filter((row) => row.promptPosition === position).map(decode),
        })),
        characteristics: rows.map(decode),
        characteristicIds: rows.map((row) => row.id),
      };
    },
    write(specificationId: number, list: readonly Prompt[]): void {
      let position = 0;
      for (const [promptPosition, prompt] of list.entries()) {
        addPrompt.run(specificationId, promptPosition, prompt.text, prompt.caution);
        for (const one of prompt.characteristics) {
          const row = { specificationId, position, promptPosition, ...encode(one) };
          addCharacteristic.run(row);
          position += 1;
        }
      }
    },
    clear(specificationId: number): void {
      clearCharacteristics.run(specificationId);
      clearPrompts.run(specificationId);
    },
  };
}
