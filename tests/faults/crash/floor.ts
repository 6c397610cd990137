import { repeatable } from '../../bench/support/readings.js';
import { failing, goodFastening, passing } from '../../support/scenario.js';
import type { Answer, Command, Connections } from './command.js';

/** Keys by role, as `TestPlant` names them. */
export type Tokens = ReadonlyMap<string, string>;

interface Pair {
  powerhead: string;
  lowerUnit: string;
}

type Leaves = Command['leaves'];
type Told = Record<string, unknown>;

interface More {
  key?: string;
  leavesRefused?: number;
  mayBeRefused?: boolean;
}

/** What the clients know of one life of the service. */
interface Life {
  number: number;
  connections: Connections;
  onAnswer: () => void;
}

/** Clients that set, test, repair and release at once. */
const LINES = 8;
export const ORDER = 'CRASH';
const CODES = { symptom: 'low-pressure', cause: 'impeller', action: 'replaced' };

/** Lets through only while it is open. */
class Gate {
  #pass: () => void = () => {};
  #passed: Promise<void> = Promise.resolve();
  #isOpen = true;

  open(): void {
    this.#isOpen = true;
    this.#pass();
  }

  shut(): void {
    if (!this.#isOpen) return;
    this.#isOpen = false;
    this.#passed = new Promise((resolve) => {
      this.#pass = resolve;
    });
  }

  passed(): Promise<void> {
    return this.#passed;
  }
}

/**
 * The clients of one database: each takes motors through their lives, one command after the
 * other, and remembers what it sent and what came back. A client whose service is killed
 * waits where it is, until a later life of the service has answered that command.
 */
export class Floor {
  readonly commands: Command[] = [];
  /** Commands at the service, or broken off by its end, each with its client that waits. */
  readonly underWay = new Map<Command, (answer: Answer) => void>();
  /** Rejects with what stopped a client, which nothing should. */
  readonly stopped: Promise<never>;
  #stop!: (error: unknown) => void;
  readonly #gate = new Gate();
  readonly #longGate = new Gate();
  #life: Life | undefined;
  #broken = 0;
  #lastPair: Pair | undefined;

  /** @param seed of the clients' dice; each has its own */
  constructor(
    private readonly tokens: Tokens,
    name: string,
    seed: number,
  ) {
    this.stopped = new Promise((_, reject) => {
      this.#stop = reject;
    });
    // It may come while nobody waits for it.
    this.stopped.catch(() => {});
    this.pause();
    for (let line = 0; line < LINES; line += 1) {
      const client = new Client(this, `${name}${line}`, repeatable(seed * 100 + line));
      this.#keepGoing(() => client.takeThrough());
    }
    const engineer = new Client(this, `${name}Q`, repeatable(seed * 100 + LINES));
    this.#keepGoing(() => engineer.contain());
  }

  /** Lets the clients work on a life of the service; in a long one, containments are opened too. */
  work(life: Life, isLong: boolean): void {
    this.#life = life;
    this.#broken = 0;
    this.#gate.open();
    if (isLong) this.#longGate.open();
  }

  /** Lets none send any more, and waits until what was sent is answered or broken off. */
  async pause(): Promise<void> {
    this.#gate.shut();
    this.#longGate.shut();
    while (this.#broken < this.underWay.size) await new Promise((resolve) => setImmediate(resolve));
  }

  /** Gives a waiting client the answer that its command got in a later life. */
  resume(command: Command, answer: Answer): void {
    command.answer = answer;
    const go = this.underWay.get(command);
    this.underWay.delete(command);
    go?.(answer);
  }

  /** Sends a command and returns its answer, however many lives of the service that takes. */
  async send(as: string, sent: Omit<Command, 'token' | 'life' | 'answer'>): Promise<Answer> {
    // A worker is slow to start: in a short life no containment would ever be answered.
    const gate = sent.path === '/v1/containments' ? this.#longGate : this.#gate;
    await gate.passed();
    const life = this.#life;
    if (!life) throw new Error('no service to send to');
    const command: Command = { ...sent, token: this.tokens.get(as) ?? '', life: life.number };
    this.commands.push(command);
    const later = new Promise<Answer>((resolve) => this.underWay.set(command, resolve));
    const answer = await life.connections.send(command);
    if (answer) {
      this.resume(command, answer);
      life.onAnswer();
    } else {
      this.#broken += 1;
    }
    return later;
  }

  /** Leaves a pair that is about to be set to another client, for two to race for. */
  swapPair(pair: Pair): Pair | undefined {
    const other = this.#lastPair;
    this.#lastPair = pair;
    return other;
  }

  #keepGoing(work: () => Promise<void>): void {
    const go = async () => {
      for (;;) await work();
    };
    go().catch(this.#stop);
  }
}

/** One client, with its own numbers and its own dice. */
class Client {
  #count = 0;

  constructor(
    private readonly floor: Floor,
    private readonly name: string,
    private readonly random: () => number,
  ) {}

  /** Takes a motor from its halves to its release, the way a shift would, mishaps included. */
  async takeThrough(): Promise<void> {
    const own = { powerhead: await this.#enter('powerhead'), lowerUnit: await this.#enter() };
    const other = this.floor.swapPair(own);
    const pair = other && this.#chance(0.1) ? other : own;
    const motor = await this.#set(pair);
    if (motor === undefined) return;
    if (this.#chance(0.15)) await this.#holdAndLift(motor);
    if (this.#chance(0.1)) return this.#tearDown(motor);
    let { lowerUnit } = pair;
    let repair = await this.#test(motor, this.#chance(0.3));
    while (repair !== undefined) {
      if (this.#chance(0.4)) lowerUnit = await this.#exchange(motor, repair, lowerUnit);
      await this.#close(repair);
      repair = await this.#test(motor, this.#chance(0.1));
    }
    await this.#command('quality', '/v1/releases', { motors: [motor] }, [
      'SELECT COUNT(*) FROM releases r JOIN units u ON u.id = r.motor_id WHERE u.serial = ?',
      motor,
    ]);
  }

  /** Contains what a lot went into, disposes of it and closes. */
  async contain(): Promise<void> {
    const lot = this.#key();
    const serial = await this.#enter('lower-unit', lot);
    const where = { lot: { part: 'PRIMER', lot } };
    const opened = await this.#worded('quality', '/v1/containments', 'title', { where }, [
      'SELECT COUNT(*) FROM containments WHERE title = ?',
    ]);
    const address = `/v1/containments/${opened.told.id}`;
    const units = [{ class: 'lower-unit', serial }];
    await this.#worded(
      'quality',
      `${address}/dispositions`,
      'evidence',
      { units, disposition: 'clear' },
      ['SELECT COUNT(*) FROM contained_units WHERE evidence = ?'],
    );
    await this.#worded('quality', `${address}/closure`, 'reason', {}, [
      'SELECT COUNT(*) FROM containments WHERE close_reason = ?',
    ]);
  }

  async #enter(unitClass = 'lower-unit', lot?: string): Promise<string> {
    const isHead = unitClass === 'powerhead';
    const body = {
      class: unitClass,
      part: isHead ? { number: 'PH-100', revision: 'A' } : { number: 'LU-20', revision: 'A' },
      inspection: { result: 'accepted' },
      ...(isHead ? { fastenings: [goodFastening] } : {}),
      ...(lot ? { lots: [{ part: 'PRIMER', revision: '1', lot }] } : {}),
    };
    const { key } = await this.#worded('set', '/v1/units', 'serial', body, [
      'SELECT COUNT(*) FROM units WHERE serial = ?',
    ]);
    return key;
  }

  /** The motor's serial; undefined where another client was first. */
  async #set(pair: Pair): Promise<string | undefined> {
    const { status, told } = await this.#worded(
      'set',
      '/v1/sets',
      'station',
      { ...pair, order: ORDER },
      ['SELECT COUNT(*) FROM set_attempts WHERE station = ?'],
      // A refused set is recorded too.
      { mayBeRefused: true, leavesRefused: 1 },
    );
    return status === 201 ? String(told.motor) : undefined;
  }

  /** Holds a motor, tries to run it all the same, and lifts the hold. */
  async #holdAndLift(motor: string): Promise<void> {
    const body = { class: 'motor', unit: motor, cause: 'leak' };
    const { told } = await this.#worded('quality', '/v1/holds', 'reason', body, [
      'SELECT COUNT(*) FROM holds WHERE reason = ?',
    ]);
    await this.#start(motor, { mayBeRefused: true });
    await this.#worded('quality', `/v1/holds/${told.id}/lift`, 'reason', {}, [
      'SELECT COUNT(*) FROM holds WHERE lift_reason = ?',
    ]);
  }

  /** The run's id, of no use where the start was refused. */
  async #start(motor: string, more: More = {}): Promise<number> {
    const leaves: Leaves = ['SELECT COUNT(*) FROM runs WHERE cell = ?'];
    const { told } = await this.#worded('cell', '/v1/runs', 'cell', { motor }, leaves, more);
    return Number(told.id);
  }

  /** Runs a motor once, aborting at times; the repair that a failed run opened. */
  async #test(motor: string, fails: boolean): Promise<number | undefined> {
    let run = await this.#start(motor);
    while (this.#chance(0.15)) {
      await this.#worded('cell', `/v1/runs/${run}/abort`, 'reason', {}, [
        'SELECT COUNT(*) FROM runs WHERE abort_reason = ?',
      ]);
      run = await this.#start(motor);
    }
    const readings = fails ? failing : passing;
    const batches = this.#chance(0.5) ? 2 : 0;
    for (let sequence = 1; sequence <= batches; sequence += 1) {
      const body = { sequence, readings: [readings[sequence - 1]] };
      await this.#command('cell', `/v1/runs/${run}/batches`, body, [
        'SELECT COUNT(*) FROM reading_batches WHERE run_id = ? AND sequence = ?',
        ...[run, sequence],
      ]);
    }
    const body = { readings: readings.slice(batches) };
    const { told } = await this.#command('cell', `/v1/runs/${run}/completion`, body, [
      'SELECT COUNT(*) FROM runs WHERE id = ? AND verdict = ? AND judged IS NOT NULL',
      ...[run, fails ? 'fail' : 'pass'],
    ]);
    return told.repair === null ? undefined : Number(told.repair);
  }

  /** Exchanges a motor's lower unit, once with a serial that nobody knows; the one fitted. */
  async #exchange(motor: string, repair: number, removed: string): Promise<string> {
    const serial = await this.#enter();
    for (const fitted of [`${serial}-no`, serial]) {
      const place = { parentClass: 'motor', parent: motor, position: 'lower-unit' };
      const body = { ...place, removed, fitted: { class: 'lower-unit', serial: fitted } };
      const leaves: Leaves = [
        'SELECT COUNT(*) FROM exchanges e JOIN units u ON u.id = e.fitted_id WHERE u.serial = ?',
        fitted,
      ];
      const mayBeRefused = fitted !== serial;
      const path = `/v1/repairs/${repair}/exchanges`;
      await this.#command('repair', path, body, leaves, { mayBeRefused });
    }
    return serial;
  }

  async #close(repair: number): Promise<void> {
    await this.#worded('repair', `/v1/repairs/${repair}/closure`, 'note', CODES, [
      'SELECT COUNT(*) FROM repairs WHERE note = ?',
    ]);
  }

  async #tearDown(motor: string): Promise<void> {
    await this.#worded('quality', '/v1/teardowns', 'reason', { motor }, [
      'SELECT COUNT(*) FROM sets WHERE teardown_reason = ?',
    ]);
  }

  /** Sends a command whose key stands in one of its members too, and so finds its rows. */
  async #worded(
    as: string,
    path: string,
    member: string,
    body: object,
    [sql]: Leaves,
    more: More = {},
  ): Promise<{ status: number; told: Told; key: string }> {
    const key = this.#key();
    const answer = await this.#command(as, path, { ...body, [member]: key }, [sql, key], {
      ...more,
      key,
    });
    return { ...answer, key };
  }

  async #command(
    as: string,
    path: string,
    body: object,
    leaves: Leaves,
    { key = this.#key(), leavesRefused = 0, mayBeRefused = false }: More = {},
  ): Promise<{ status: number; told: Told }> {
    const { status, body: text } = await this.floor.send(as, {
      ...{ key, path, body, leaves, leavesRefused },
    });
    if (status >= 300 && !mayBeRefused) throw new Error(`${path} ${key}: ${status} ${text}`);
    return { status, told: JSON.parse(text) as Told };
  }

  #chance(share: number): boolean {
    return this.random() < share;
  }

  #key(): string {
    this.#count += 1;
    return `${this.name}-${this.#count}`;
  }
}
