import { copyFileSync, existsSync, mkdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { databaseFile } from '../../../src/config.js';
import { verifyDatabase } from '../../../src/journal/verify.js';
import { repeatable } from '../../bench/support/readings.js';
import { Program } from '../../support/program.js';
import { AfterCrash } from './after-crash.js';
import { Connections } from './command.js';
import { Floor } from './floor.js';
import type { Template } from './template.js';

export interface LaneOptions {
  template: Template;
  /** Where this lane keeps its files. */
  folder: string;
  seed: number;
  kills: number;
}

export interface Tally {
  kills: number;
  /** Of them, before the service listened. */
  whileStarting: number;
  answered: number;
  replayed: number;
  carriedOut: number;
  verified: number;
  /** Milliseconds from spawning to listening, over all starts. */
  starting: number[];
}

/** Kills after which everything is verified. */
const VERIFY_EVERY = 20;
/** Kills after which the file is a fresh one, so that verifying it stays quick. */
const RENEW_EVERY = 60;
/** One kill in so many comes before the service listens. */
const START_KILLS = 4;
/** One life in so many is long enough for a question in a worker. */
const LONG_LIVES = 30;
const LONG_MS = 1500;
/** Of the others, half end within so many milliseconds, half as soon as so many answers are out. */
const SHORT_MS = 250;
const ANSWERS = 40;

/** Kills one service again and again, on files of its own, and checks it after each start. */
export class Lane {
  readonly tally: Tally = {
    ...{ kills: 0, whileStarting: 0, answered: 0, replayed: 0, carriedOut: 0, verified: 0 },
    starting: [],
  };
  readonly #random: () => number;
  /** In which life the clients last worked. */
  #lastLife = -1;
  #verifiedAt = 0;
  #data = '';
  #floor!: Floor;
  #after!: AfterCrash;
  #program: Program | undefined;

  constructor(private readonly options: LaneOptions) {
    this.#random = repeatable(options.seed);
  }

  /**
   * @throws Error that names the lane's seed, the kill and the folder where the files are as
   * that kill left them
   */
  async run(): Promise<void> {
    const { kills, seed } = this.options;
    try {
      while (this.tally.kills < kills) {
        this.#renew();
        const until = Math.min(this.tally.kills + RENEW_EVERY, kills);
        while (this.tally.kills < until) await this.#live();
        await this.#liveOn();
      }
    } catch (error) {
      const what = error instanceof Error ? error.message : String(error);
      const where = `lane of seed ${seed}, kill ${this.tally.kills}, files as it left them in ${this.#saved}`;
      throw new Error(`${where}: ${what}`, { cause: error });
    } finally {
      await this.#program?.kill();
    }
  }

  get #saved(): string {
    return join(this.options.folder, 'at-kill');
  }

  get #file(): string {
    return databaseFile(this.#data);
  }

  #renew(): void {
    const { template, folder, seed } = this.options;
    if (this.#data) rmSync(this.#data, { recursive: true });
    this.#data = join(folder, `data-${this.tally.kills}`);
    template.copyTo(this.#data);
    this.#floor = new Floor(template.tokens, `K${this.tally.kills}`, seed + this.tally.kills);
    this.#after = new AfterCrash(this.#file, this.#floor);
  }

  /** One life of the service, from its start to its kill. */
  async #live(): Promise<void> {
    const { tally } = this;
    const program = this.#start();
    if (tally.kills % START_KILLS === START_KILLS - 1) {
      const usual = tally.starting.at(-1) ?? SHORT_MS;
      await sleep(this.#random() * usual);
      tally.whileStarting += 1;
    } else {
      const connections = await this.#check(program);
      await Promise.race([this.#work(connections), this.#floor.stopped, unasked(program)]);
    }
    await program.kill();
    await this.#floor.pause();
    tally.kills += 1;
    this.#save();
  }

  #start(): Program {
    this.#program = Program.serve(this.#data);
    return this.#program;
  }

  async #check(program: Program): Promise<Connections> {
    const { tally } = this;
    const begun = performance.now();
    const connections = new Connections(await program.address());
    tally.starting.push(performance.now() - begun);
    const { replayed, carriedOut } = await this.#after.check(connections, this.#lastLife);
    tally.replayed += replayed;
    tally.carriedOut += carriedOut;
    if (tally.kills - this.#verifiedAt >= VERIFY_EVERY) this.#verify();
    return connections;
  }

  /** Lets the clients work until the kill is due. */
  async #work(connections: Connections): Promise<void> {
    const isLong = this.tally.kills % LONG_LIVES === 0;
    const byTime = isLong || this.#random() < 0.5;
    const ms = this.#random() * (isLong ? LONG_MS : SHORT_MS);
    let left = 1 + Math.floor(this.#random() * ANSWERS);
    this.#lastLife = this.tally.kills;
    await new Promise<void>((resolve) => {
      const onAnswer = () => {
        this.tally.answered += 1;
        left -= 1;
        if (left === 0 && !byTime) resolve();
      };
      if (byTime) sleep(ms).then(resolve);
      this.#floor.work({ number: this.#lastLife, connections, onAnswer }, isLong);
    });
  }

  /** The last life of a file: checks it, verifies it, and stops in order. */
  async #liveOn(): Promise<void> {
    const program = this.#start();
    const connections = await this.#check(program);
    this.#verify();
    await this.#after.checkAll(connections);
    connections.close();
    await program.stop();
    if (existsSync(`${this.#file}-wal`)) throw new Error('a log is left after an orderly stop');
  }

  #verify(): void {
    const { findings, events } = verifyDatabase(this.#file);
    if (findings.length > 0) throw new Error(`verify found ${JSON.stringify(findings)}`);
    this.#verifiedAt = this.tally.kills;
    this.tally.verified += events;
  }

  /** Keeps the files as the kill left them, for whoever has to look into a failure. */
  #save(): void {
    mkdirSync(this.#saved, { recursive: true });
    for (const suffix of ['', '-wal']) {
      const copy = join(this.#saved, `skeg.db${suffix}`);
      rmSync(copy, { force: true });
      if (existsSync(this.#file + suffix)) copyFileSync(this.#file + suffix, copy);
    }
  }
}

/** Rejects when the service ends of itself. */
async function unasked(program: Program): Promise<never> {
  await program.ended;
  throw new Error(`the service ended: ${program.output}`);
}
