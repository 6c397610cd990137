import type { z } from 'zod';
import type { Command } from '../command.js';
import {
  booleanCell,
  type CsvLine,
  faultyImport,
  lineFaults,
  numberCell,
  readCsv,
  textCell,
} from '../http/csv-import.js';
import type { Fault } from '../problems.js';
import { configurationTerms, draftConfiguration } from './actions.js';
import { configurationDraft, configurationShape } from './schema.js';
import { draftSpecification, promptsOf, specificationFaults } from './specification-actions.js';
import {
  characteristicDraft,
  specificationDraft,
  specificationLine,
} from './specification-schema.js';

const requiredOfConfigurations = ['code', 'model', 'powerheadNumber', 'lowerUnitNumber'];
const knownOfConfigurations = Object.keys(configurationShape.shape);

/** Drafts a configuration a line; the columns are those of the export. All lines or none. */
export function importConfigurations(command: Command, text: string): { drafted: number } {
  const lines = readCsv(text, requiredOfConfigurations, knownOfConfigurations);
  const faults: Fault[] = [];
  const seen = new Map<string, number>();
  const drafts = lines.flatMap(({ line, cells }) => {
    const read = readConfiguration(cells);
    if (!read.success) {
      faults.push(...lineFaults(line, read.error));
      return [];
    }
    faults.push(...configurationFaults(command, line, read.data, seen.get(read.data.code)));
    seen.set(read.data.code, line);
    return [read.data];
  });
  if (faults.length > 0) throw faultyImport(faults);
  for (const draft of drafts) draftConfiguration(command, draft);
  return { drafted: drafts.length };
}

function readConfiguration(cells: Record<string, string>) {
  return configurationDraft.safeParse({
    code: cells.code,
    model: cells.model,
    powerheadNumber: cells.powerheadNumber,
    powerheadRevision: textCell(cells.powerheadRevision),
    lowerUnitNumber: cells.lowerUnitNumber,
    lowerUnitRevision: textCell(cells.lowerUnitRevision),
    attributes: jsonCell(cells.attributes),
    discontinued: booleanCell(cells.discontinued),
    effectiveFrom: textCell(cells.effectiveFrom),
  });
}

function configurationFaults(
  command: Command,
  line: number,
  draft: z.output<typeof configurationDraft>,
  earlierLine: number | undefined,
): Fault[] {
  const faults = configurationTerms(command.plant, draft).faults.map(({ pointer, detail }) => ({
    line,
    column: pointer?.slice(1).replaceAll('/', '.') ?? '',
    detail,
  }));
  if (earlierLine !== undefined) {
    faults.push({ line, column: 'code', detail: `stands in line ${earlierLine} already` });
  }
  if (command.plant.catalogue.configurationDraft(draft.code)) {
    faults.push({ line, column: 'code', detail: 'has a draft already' });
  }
  return faults;
}

function jsonCell(cell: string | undefined): unknown {
  if (cell === undefined || cell === '') return undefined;
  try {
    return JSON.parse(cell);
  } catch {
    return cell;
  }
}

const requiredOfSpecifications = ['model', 'prompt', 'kind', 'code', 'name'];
const knownOfSpecifications = Object.keys(specificationLine.shape);

type SpecificationInput = z.input<typeof specificationDraft>;

/** A prompt of the file with the line each of its characteristics came from. */
interface ReadPrompt {
  prompt: SpecificationInput['prompts'][number];
  line: number;
  lines: number[];
}

/**
 * Drafts a specification for each model of the file; neighbouring lines with the same
 * prompt belong to one. The columns are those of the export. All lines or none.
 */
export function importSpecifications(command: Command, text: string): { drafted: number } {
  const lines = readCsv(text, requiredOfSpecifications, knownOfSpecifications);
  const models = new Map<string, CsvLine[]>();
  for (const line of lines) {
    const model = line.cells.model ?? '';
    const own = models.get(model) ?? [];
    models.set(model, own);
    own.push(line);
  }
  const faults: Fault[] = [];
  const drafts = [...models].flatMap(([model, own]) => {
    const read = readSpecification(model, own);
    addAll(faults, read.faults);
    addAll(faults, modelFaults(command, model, own[0]?.line ?? 1));
    return read.draft ? [read.draft] : [];
  });
  if (faults.length > 0) throw faultyImport(faults);
  for (const draft of drafts) draftSpecification(command, draft);
  return { drafted: drafts.length };
}

/** A whole file can have more faults than a call may have arguments. */
function addAll(faults: Fault[], more: readonly Fault[]): void {
  for (const fault of more) faults.push(fault);
}

function modelFaults(command: Command, code: string, line: number): Fault[] {
  const { catalogue, specifications } = command.plant;
  const model = catalogue.model(code);
  if (!model) return [{ line, column: 'model', detail: `there is no model ${code}` }];
  if (!specifications.specificationDraft(model.id)) return [];
  return [{ line, column: 'model', detail: 'has a draft specification already' }];
}

/** Reads the lines of one model, and on past a bad one, so that every bad one is told. */
function readSpecification(model: string, lines: CsvLine[]) {
  const faults: Fault[] = [];
  const prompts: ReadPrompt[] = [];
  for (const { line, cells } of lines) {
    const prompt = promptFor(prompts, line, cells);
    faults.push(...misplacedCells(line, cells));
    if (!cells.kind) continue;
    const read = characteristicDraft.safeParse(characteristicCells(cells));
    if (!read.success) {
      faults.push(...lineFaults(line, read.error).map(inOwnColumn));
      continue;
    }
    prompt.prompt.characteristics?.push(read.data);
    prompt.lines.push(line);
  }
  const draft = specificationDraft.safeParse({
    model,
    note: 'Imported from CSV',
    prompts: prompts.map((one) => one.prompt),
  });
  if (!draft.success) {
    addAll(
      faults,
      draft.error.issues.flatMap((issue) => promptFault(issue, prompts)),
    );
    return { faults };
  }
  const onTheWhole = placedFaults(draft.data, prompts);
  // What a bad line names is not missing, so references are judged once every line is read.
  addAll(faults, faults.length === 0 ? onTheWhole : onTheWhole.filter(isOfOneLine));
  return { faults, draft: draft.data };
}

const commonColumns = ['model', 'prompt', 'caution', 'kind', 'code', 'name', 'required'];
const judgedColumns = [
  'unit',
  'lower',
  'upper',
  'guardBand',
  'nominal',
  'standardUncertainty',
  'decimals',
];
const columnsOfKind: ReadonlyMap<string, readonly string[]> = new Map([
  ['attribute', [...commonColumns, 'expected']],
  ['measured', [...commonColumns, ...judgedColumns]],
  ['derived', [...commonColumns, ...judgedColumns, 'function', 'inputs']],
]);
const columnsOfPrompt = ['model', 'prompt', 'caution'];

/** Cells that the line's kind has no use for: taken silently, a limit would be lost. */
function misplacedCells(line: number, cells: Record<string, string>): Fault[] {
  const own = cells.kind ? columnsOfKind.get(cells.kind) : columnsOfPrompt;
  if (!own) return [];
  const filled = Object.keys(cells).filter((column) => cells[column] && !own.includes(column));
  if (!cells.kind) {
    const [first] = filled;
    return first ? [{ line, column: 'kind', detail: `is needed, since ${first} is given` }] : [];
  }
  return filled.map((column) => ({
    line,
    column,
    detail: `must be empty where the kind is ${cells.kind}`,
  }));
}

/** A fault of a derivation under the name of its column. */
function inOwnColumn(fault: Fault): Fault {
  const [first, second] = fault.column?.split('.') ?? [];
  return first === 'derivation' && second ? { ...fault, column: second } : fault;
}

/** A fault of a prompt itself; the model's own is told by modelFaults. */
function promptFault(issue: z.core.$ZodIssue, prompts: ReadPrompt[]): Fault[] {
  const [first, place, member] = issue.path;
  if (first === 'model') return [];
  const line = typeof place === 'number' ? prompts[place]?.line : prompts[0]?.line;
  const column = member === 'caution' ? 'caution' : 'prompt';
  return [{ line: line ?? 1, column, detail: issue.message }];
}

function isOfOneLine(fault: Fault): boolean {
  return !['function', 'inputs', 'prompt'].includes(fault.column ?? '');
}

function promptFor(prompts: ReadPrompt[], line: number, cells: Record<string, string>): ReadPrompt {
  const text = cells.prompt ?? '';
  const caution = textCell(cells.caution) ?? null;
  const last = prompts.at(-1);
  if (last && last.prompt.text === text && (last.prompt.caution ?? null) === caution) return last;
  const added: ReadPrompt = { prompt: { text, caution, characteristics: [] }, line, lines: [] };
  prompts.push(added);
  return added;
}

/** Faults that only the whole specification shows, at the line of the characteristic. */
function placedFaults(draft: z.output<typeof specificationDraft>, prompts: ReadPrompt[]): Fault[] {
  return specificationFaults(promptsOf(draft)).map(({ pointer = '', detail }) => {
    const [, , p, , c, field, member] = pointer.split('/');
    const prompt = prompts[Number(p)] ?? prompts[0];
    const line = prompt?.lines[Number(c)] ?? prompt?.line ?? 1;
    const column = field === 'derivation' ? member : field;
    return { line, column: column ?? 'prompt', detail };
  });
}

function characteristicCells(cells: Record<string, string>): Record<string, unknown> {
  const common = {
    kind: cells.kind,
    code: cells.code,
    name: cells.name,
    required: booleanCell(cells.required),
  };
  if (cells.kind === 'attribute') return { ...common, expected: booleanCell(cells.expected) };
  const judged = {
    ...common,
    unit: textCell(cells.unit),
    lower: numberCell(cells.lower),
    upper: numberCell(cells.upper),
    guardBand: numberCell(cells.guardBand),
    nominal: numberCell(cells.nominal),
    standardUncertainty: numberCell(cells.standardUncertainty),
    decimals: numberCell(cells.decimals),
  };
  if (cells.kind !== 'derived') return judged;
  const inputs = textCell(cells.inputs)?.split(' ') ?? [];
  return { ...judged, derivation: { function: cells.function, inputs } };
}
