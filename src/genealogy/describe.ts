import type { EventKind } from '../journal/kinds.js';

type Content = Record<string, unknown>;

const text = (value: unknown) => (value === null || value === undefined ? '' : String(value));

/** What each kind of event says in a timeline, from its content. */
const sentences: Record<EventKind, (content: Content) => string> = {
  'key.issued': () => 'API key issued',
  'key.pseudonymised': () => 'Key pseudonymised',
  'key.revoked': () => 'API key revoked',
  'part-class.added': (c) => `Part class ${text(c.code)} added`,
  'part.added': (c) => `Part ${text(c.number)} revision ${text(c.revision)} added`,
  'model.added': (c) => `Model ${text(c.code)} added`,
  'repair-code.added': (c) => `${text(c.kind)} code ${text(c.code)} added`,
  'configuration.drafted': (c) =>
    `Configuration ${text(c.code)} revision ${text(c.revision)} drafted`,
  'configuration.revised': () => 'Configuration draft edited',
  'configuration.approved': () => 'Configuration approved',
  'specification.drafted': (c) => `Specification revision ${text(c.revision)} drafted`,
  'specification.revised': () => 'Specification draft edited',
  'specification.approved': () => 'Specification approved',
  'shift-calendar.recorded': (c) => `Shift calendar ${text(c.code)} recorded`,
  'order.opened': (c) => `Order ${text(c.number)} opened`,
  'order.closed': (c) => `Order closed: ${text(c.reason)}`,
  'unit.entered': ({ inspection }) => {
    const { kind, result } = inspection as { kind: string; result: string };
    return `Entered as ${result} by its ${kind}`;
  },
  'unit.inspected': ({ inspection }) => {
    const { kind, result, note } = inspection as Record<string, unknown>;
    return `${text(kind)}: ${text(result)}${note ? ` (${text(note)})` : ''}`;
  },
  'unit.fastened': ({ fastenings }) => {
    const joints = (fastenings as { joint: string; conforms: boolean }[]).map(
      ({ joint, conforms }) => `${joint}${conforms ? '' : ' outside its window'}`,
    );
    return `Fastened ${joints.join(', ')}`;
  },
  'unit.lot-used': ({ lots }) =>
    `Lots used: ${(lots as { lot: string }[]).map((one) => one.lot).join(', ')}`,
  'unit.installed': (c) => `Fitted in position ${text(c.position)}`,
  'unit.removed': (c) =>
    `Removed from position ${text(c.position)} as ${text(c.as)}: ${text(c.reason)}`,
  'unit.held': (c) => `Put on hold (${text(c.cause)}): ${text(c.reason)}`,
  'unit.hold-lifted': (c) => `Hold lifted: ${text(c.reason)}`,
  'pair.set': (c) => `Set together as motor ${text(c.serial)} at ${text(c.station)}`,
  'pair.refused': (c) => `Set refused (${text(c.outcome)}): ${text(c.detail)}`,
  'motor.torn-down': (c) => `Torn down: ${text(c.reason)}`,
  'run.started': (c) => `Test run ${text(c.id)} started in cell ${text(c.cell)}`,
  'run.readings': (c) =>
    `Batch ${text(c.sequence)} of run ${text(c.runId)}: ${text(c.count)} readings`,
  'run.completed': (c) =>
    `Run ${text(c.id)}, attempt ${text(c.attempt)}: ${text(c.verdict)}${c.disagreement ? '; the cell thought otherwise' : ''}`,
  'run.aborted': (c) => `Run ${text(c.id)} aborted: ${text(c.reason)}`,
  'run.resumed': (c) =>
    `Run ${text(c.id)} taken over by cell ${text(c.cell)} from ${text(c.fromCell)}`,
  'repair.opened': (c) => `Repair ${text(c.id)} opened: ${text(c.complaint)}`,
  'repair.exchanged': (c) =>
    `Part exchanged in position ${text(c.position)} in repair ${text(c.repairId)}`,
  'repair.closed': (c) =>
    `Repair ${text(c.id)} closed: ${text(c.symptom)}, ${text(c.cause)}, ${text(c.action)}`,
  'retest.allowed': (c) => `Test without repair allowed: ${text(c.reason)}`,
  'unit.disposed': (c) => `Disposition ${text(c.kind)}: ${text(c.reason)}`,
  'motor.released': () => 'Released to shipping',
  'containment.opened': (c) => `Contained by containment ${text(c.id)}: ${text(c.title)}`,
  'containment.joined': (c) => `Joined containment ${text(c.id)}: ${text(c.title)}`,
  'containment.disposed': (c) =>
    `Disposition in containment ${text(c.id)}: ${text(c.disposition)} (${text(c.evidence)})`,
  'containment.closed': (c) => `Containment ${text(c.id)} closed: ${text(c.reason)}`,
  'chart.opened': (c) => `Control chart ${text(c.id)} (${text(c.kind)}) opened`,
  'chart.baseline-frozen': (c) =>
    `Baseline ${text(c.number)} of control chart ${text(c.id)} frozen: ${text(c.reason)}`,
  'chart.retired': (c) => `Control chart ${text(c.id)} retired: ${text(c.reason)}`,
  'signal.acknowledged': ({ chart, signals, reason }) => {
    const ids = signals as number[];
    const which = ids.length === 1 ? `Signal ${ids[0]}` : `${ids.length} signals`;
    return `${which} of control chart ${text(chart)} acknowledged: ${text(reason)}`;
  },
  'return.recorded': (c) =>
    `Field return ${text(c.id)} on ${text(c.returnedOn)}: ${text(c.symptom)}${c.finding ? ` (${text(c.finding)})` : ''}`,
  'engine-family.recorded': (c) => `Engine family ${text(c.code)} revision ${text(c.revision)}`,
  'engines.drawn': (c) =>
    `Drawn for emission testing of engine family ${text(c.family)}, test period ${text(c.period)}, draw ${text(c.id)}`,
  'emission-test.recorded': (c) =>
    `Emission test ${text(c.id)} for engine family ${text(c.family)} on ${text(c.testedOn)}${c.afterCorrection ? ', after correction' : ''}`,
  'emission-test.invalidated': (c) =>
    `Emission test ${text(c.testId)} invalidated: ${text(c.reason)}`,
  'reference.designated': (c) =>
    `Kept as reference motor ${text(c.id)}, on hold: ${text(c.reason)}`,
  'reference.rescheduled': (c) => `Schedule of reference motor changed: ${text(c.reason)}`,
  'reference.retired': (c) => `Retired as reference motor, hold lifted: ${text(c.reason)}`,
  'reference.run': (c) => {
    const off = (c.shifts as { code: string }[]).map((one) => one.code);
    const shifted = off.length > 0 ? `, off its history in ${off.join(', ')}` : '';
    return `Reference run ${text(c.id)} in cell ${text(c.cell)}${shifted}`;
  },
};

/** An event in words. */
export function describeEvent(kind: string, content: Content): string {
  return sentences[kind as EventKind](content);
}
