/**
 * The catalogue of everything the service may refuse. A slug is part of the
 * interface: it never changes its meaning, and `title` is constant (RFC 9457).
 * `about` is what `/problems/{slug}` tells a person who meets it.
 */
export const problemCatalogue = {
  // The request itself
  'body-malformed': [400, 'The body is not valid JSON', 'Send one JSON document in UTF-8.'],
  'request-invalid': [
    400,
    'The request does not have the required form',
    'Each entry of `errors` points at a member, says what is wrong with it, and nothing was changed.',
  ],
  'idempotency-key-missing': [
    400,
    'An Idempotency-Key header is required',
    'Every command carries a key of its own choosing (1 to 255 visible characters), so that a repeated send changes nothing twice.',
  ],
  'idempotency-key-reused': [
    422,
    'This Idempotency-Key was used for another request',
    'Use a new key for a new command.',
  ],
  'idempotency-in-flight': [
    409,
    'The same command is still being carried out',
    'Repeat the request shortly; the answer will then be ready.',
  ],
  unauthenticated: [
    401,
    'A valid API key is required',
    'Send `Authorization: Bearer` with a key that is known, not expired and not revoked.',
  ],
  forbidden: [403, 'This key may not do that', 'The route lists the roles that may.'],
  'cross-site-request': [
    403,
    'A signed-in page of this service must send this itself',
    'A command that comes by session cookie says so by Sec-Fetch-Site or Origin; a program sends a bearer token.',
  ],
  'route-unknown': [
    404,
    'There is nothing at this address',
    'See /openapi.yaml for the addresses.',
  ],
  'method-not-allowed': [
    405,
    'This address does not take that method',
    'The Allow header lists those that it takes.',
  ],
  'not-acceptable': [
    406,
    'The answer is not to be had in that form',
    'The API document says in which forms each answer is to be had.',
  ],
  'body-too-large': [413, 'The body is too large', 'The API document states the limit.'],
  'media-type-unsupported': [
    415,
    'The body is in a form that this address does not take',
    'Commands are application/json, imports text/csv.',
  ],
  'too-many-requests': [429, 'Too many failed attempts', 'Wait for the time in Retry-After.'],
  'precondition-required': [
    428,
    'An If-Match header is required',
    'Read the draft first and send its ETag, so that nobody overwrites another’s edit unseen.',
  ],
  'version-conflict': [
    412,
    'The draft was changed in the meantime',
    'Read it again and repeat the edit on what is there now.',
  ],
  'internal-error': [
    500,
    'Something went wrong here',
    'It is logged under the request id; nothing was changed.',
  ],
  overloaded: [503, 'Too much is waiting', 'Repeat after the time in Retry-After.'],
  'storage-unavailable': [
    503,
    'The database cannot be written or read now',
    'Nothing was changed. Check the disk; the service recovers by itself.',
  ],
  'question-too-long': [
    503,
    'The question took longer than allowed',
    'Narrow it, for example by a shorter period.',
  ],
  'time-in-future': [
    422,
    'That time lies in the future',
    'Times may be ahead of the server’s clock by two minutes at the most; check the caller’s clock.',
  ],
  'time-too-old': [422, 'That time lies too far back', 'Happenings are recorded within 31 days.'],
  // Access
  'key-in-force': [409, 'The key is in force', 'Revoke it, or wait until it has expired.'],
  'key-unknown': [404, 'No such API key', 'See the list of keys.'],
  'key-name-taken': [
    409,
    'A key of this name exists',
    'Names of keys are never used again: they say who did what.',
  ],
  'key-is-own': [409, 'A key cannot revoke itself', 'Use another administrator’s key.'],
  // Catalogue
  'part-class-unknown': [404, 'No such part class', 'Add it first.'],
  'part-class-exists': [409, 'This part class exists', 'Codes are unique.'],
  'part-unknown': [404, 'No such part number and revision', 'Add the part first.'],
  'part-exists': [
    409,
    'This part number and revision exists',
    'A part revision never changes: add a new revision.',
  ],
  'model-unknown': [404, 'No such model', 'Add the model first.'],
  'model-exists': [409, 'This model code exists', 'Codes are unique.'],
  'repair-code-unknown': [
    404,
    'No such repair code',
    'Symptoms, causes and actions come from the catalogue.',
  ],
  'repair-code-exists': [409, 'This repair code exists', 'Codes are unique within their kind.'],
  'configuration-unknown': [404, 'No such configuration', 'See the list of configurations.'],
  'configuration-faulty': [
    422,
    'The configuration cannot be right',
    'Each entry of `errors` names a member and says why.',
  ],
  'characteristic-unknown': [
    404,
    'No such characteristic of this model',
    'Only measured and derived characteristics of approved specifications have figures.',
  ],
  'specification-unknown': [404, 'No such specification', 'See the list of specifications.'],
  'specification-faulty': [
    422,
    'The specification cannot be right',
    'Each entry of `errors` names a member and says why.',
  ],
  'draft-exists': [409, 'There is a draft already', 'Edit or approve that one first.'],
  'not-a-draft': [
    409,
    'An approved revision never changes',
    'Draft a new revision, which will supersede it.',
  ],
  'approval-by-author': [403, 'Whoever drafted it cannot approve it', 'A second person approves.'],
  'effective-date-past': [
    422,
    'A revision cannot take effect in the past or before its predecessor',
    'History stays as it was judged.',
  ],
  'shift-calendar-faulty': [
    422,
    'The shift calendar cannot be right',
    'Each entry of `errors` names a shift and says why.',
  ],
  'import-faulty': [
    422,
    'The file has lines that cannot be taken; none was',
    'Each entry of `errors` names the line, the column and why.',
  ],
  // Orders
  'order-unknown': [404, 'No such build order', 'See the list of orders.'],
  'order-exists': [409, 'This order number exists', 'Numbers are unique.'],
  'order-closed': [409, 'The order is closed', 'Nothing is set for it any more.'],
  'order-complete': [409, 'The order has all its motors', 'Take the next order.'],
  // Units
  'scan-unreadable': [422, 'The scan cannot be read', 'Scan again, or type the serial.'],
  'serial-unknown': [
    404,
    'This serial is not known',
    'It was never entered here: check the label.',
  ],
  'serial-ambiguous': [409, 'More than one unit has this serial', 'Say which class is meant.'],
  'serial-exists': [409, 'This serial is known already', 'A serial is entered once for its class.'],
  'wrong-class': [409, 'Another class of unit belongs here', 'Scan the other one.'],
  'scan-part-mismatch': [
    409,
    'The label names another part than the record',
    'Stop and call quality.',
  ],
  'not-accepted': [409, 'The unit is not accepted', 'Its upstream inspection rejected it.'],
  'on-hold': [409, 'The unit is on hold', 'Quality lifts holds.'],
  scrapped: [409, 'The unit is scrapped', 'Put it aside.'],
  'already-installed': [409, 'The unit is installed already', 'The answer says where.'],
  'position-occupied': [
    409,
    'The position holds a unit',
    'Remove it first, or exchange it in a repair.',
  ],
  'installation-depth': [409, 'That would nest units too deep', 'Eight levels are the limit.'],
  'fastening-outside-window': [
    422,
    'A fastening is outside its window, so the unit is not acceptable',
    'Enter it as rejected, or fasten it again.',
  ],
  'unit-invalid': [422, 'The unit cannot be recorded so', 'Each entry of `errors` says why.'],
  'part-not-for-class': [422, 'The part is of another class', 'Check part number and class.'],
  'hold-unknown': [404, 'No such hold', 'See the unit’s holds.'],
  'hold-lifted': [409, 'The hold is lifted already', 'Nothing is left to lift.'],
  // Pairing
  'no-configuration': [
    409,
    'No configuration in force takes these two parts',
    'Call the configuration owner.',
  ],
  'attribute-conflict': [
    409,
    'The two do not go together',
    'The answer names the attribute and both values.',
  ],
  'no-open-order': [
    409,
    'No open order asks for this motor',
    'Put the pair back; see what to build next.',
  ],
  'motor-state': [409, 'The motor is not in a state for that', 'The answer names its state.'],
  // Testing
  'no-specification': [
    409,
    'No specification is in force for this model',
    'Call the quality engineer.',
  ],
  'run-unknown': [404, 'No such test run', 'See the motor’s history.'],
  'run-not-open': [409, 'The test run is not open', 'Start a new run.'],
  'run-incomplete': [
    409,
    'Something required is missing',
    'The list says what to measure before completing.',
  ],
  'cell-busy': [409, 'The cell has an open run', 'Complete or abort that one first.'],
  'batch-conflict': [409, 'This batch number holds other readings', 'Number a new batch higher.'],
  'reading-invalid': [
    422,
    'A reading cannot be taken',
    'Each entry of `errors` says which and why; none was kept.',
  ],
  'too-many-readings': [
    422,
    'The run would hold too many readings',
    'Ten thousand a run are the limit.',
  ],
  // Reference motors
  'reference-motor-unknown': [404, 'No such reference motor', 'See the list of reference motors.'],
  'reference-motor-exists': [
    409,
    'The motor is a reference motor already',
    'Change its schedule, or retire it first.',
  ],
  'reference-motor-retired': [
    409,
    'The reference motor is retired',
    'Designate it again, or another one.',
  ],
  'not-a-reference-motor': [
    409,
    'The motor is no reference motor',
    'Start a test run of it, or have quality designate it.',
  ],
  'cell-not-scheduled': [
    409,
    'This cell does not run that reference motor',
    'Check the name of the cell; quality changes the schedule.',
  ],
  'reference-run-unknown': [404, 'No such reference run', 'See the list of reference runs.'],
  // Tracing and containment
  'too-many-picked': [422, 'The question picks too many units', 'Ask more narrowly.'],
  'containment-unknown': [404, 'No such containment', 'See the list of containments.'],
  'containment-closed': [409, 'The containment is closed', 'Open another if need be.'],
  'containment-not-done': [
    409,
    'Units of the containment have no disposition yet',
    'Dispose of every one, with evidence.',
  ],
  'hold-of-containment': [
    409,
    'A containment placed this hold',
    'Dispose of the unit in its containment; that lifts the hold.',
  ],
  'hold-of-reference-motor': [
    409,
    'A reference motor stays on hold',
    'Retire it as a reference motor; that lifts the hold.',
  ],
  // Field returns
  'return-unknown': [404, 'No such field return', 'See the list of field returns.'],
  'not-released': [
    409,
    'The unit was in no released motor on that day',
    'What has not left cannot come back: check the serial and the day.',
  ],
  // Production-line testing of emissions
  'engine-family-unknown': [404, 'No such engine family', 'See the list of engine families.'],
  'engine-family-exists': [
    409,
    'This engine family exists',
    'It is never edited: record its next revision.',
  ],
  'model-in-other-family': [
    409,
    'A model is in another engine family in the same days',
    'A motor is of one family: revise the other one first.',
  ],
  'test-period-unknown': [
    404,
    'The engine family has no such test period',
    'See the family’s test periods.',
  ],
  'too-few-engines': [
    409,
    'There are fewer motors to draw from than asked for',
    'Draw fewer, or wait for more production of the test period.',
  ],
  'engine-draw-unknown': [404, 'No such draw of engines', 'See the family’s draws.'],
  'engine-not-drawn': [
    409,
    'The engine was not drawn for this family',
    'Only engines that were drawn at random have results: draw first.',
  ],
  'pollutants-mismatch': [
    422,
    'The results are not of the family’s pollutants',
    'Send each pollutant of the family once.',
  ],
  'emission-test-misplaced': [
    409,
    'The test does not fit what is recorded of the engine',
    'The answer says what: when it was drawn, whether it was tested or corrected before.',
  ],
  'emission-test-unknown': [404, 'No such emission test', 'See the family’s results.'],
  'emission-test-invalidated': [
    409,
    'The emission test was invalidated already',
    'Nothing is left to invalidate.',
  ],
  // Control charts
  'chart-unknown': [404, 'No such control chart', 'See the list of charts.'],
  'chart-retired': [409, 'The control chart is retired', 'Open another if need be.'],
  'baseline-unknown': [404, 'The chart has no such baseline', 'The chart lists its baselines.'],
  'baseline-not-possible': [
    422,
    'These runs set no limits',
    'Choose a period with more points, or one in which the values vary.',
  ],
  'signal-unknown': [404, 'No such signal', 'See the list of signals.'],
  'signal-acknowledged': [
    409,
    'The signal is acknowledged already',
    'Its record says who did, when and why.',
  ],
  // Repair and release
  'repair-unknown': [404, 'No such repair', 'See the motor’s history.'],
  'repair-closed': [409, 'The repair is closed', 'Open another if need be.'],
  'disposition-not-possible': [
    409,
    'That disposition does not fit the unit now',
    'The answer says why.',
  ],
  'not-releasable': [
    409,
    'A motor may not be released',
    'Every reason is listed; none of the batch was released.',
  ],
} as const satisfies Record<string, readonly [number, string, string]>;

export type ProblemSlug = keyof typeof problemCatalogue;

/** One fault of a request: a JSON Pointer, a query parameter or a line of a file. */
export interface Fault {
  pointer?: string;
  parameter?: string;
  line?: number;
  column?: string;
  detail: string;
}

/** A refusal: thrown it undoes the command; returned from an action it is recorded with it. */
export class Problem extends Error {
  readonly slug: ProblemSlug;
  readonly status: number;
  readonly extensions: Readonly<Record<string, unknown>>;

  /**
   * @param detail a sentence for the person at the station
   * @param extensions further members of the problem document, for programs
   */
  constructor(slug: ProblemSlug, detail: string, extensions: Record<string, unknown> = {}) {
    super(detail);
    this.slug = slug;
    this.status = problemCatalogue[slug][0];
    this.extensions = extensions;
  }

  /** The RFC 9457 document; `type` is relative to the service and dereferences to its page. */
  document(): Record<string, unknown> {
    return {
      type: `/problems/${this.slug}`,
      title: problemCatalogue[this.slug][1],
      status: this.status,
      detail: this.message,
      ...this.extensions,
    };
  }
}
