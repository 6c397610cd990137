import cliProgress from 'cli-progress';
import type { Floor } from './floor.js';
import { clockTime } from './layout.js';

/** Shows how far the demo is: a bar on a terminal, a line now and then elsewhere. */
export interface Progress {
  /** Begins a stage with so many steps. */
  begin(stage: string, steps: number): void;
  step(done: number, note: string): void;
  end(): void;
}

export function makeProgress(stream: NodeJS.WriteStream): Progress {
  return stream.isTTY ? barOn(stream) : linesOn(stream);
}

function barOn(stream: NodeJS.WriteStream): Progress {
  const bar = new cliProgress.SingleBar(
    {
      stream,
      format: '{stage} {bar} {percentage}% {note}',
      barsize: 10,
      hideCursor: true,
      fps: 10,
    },
    cliProgress.Presets.shades_classic,
  );
  return {
    begin: (stage, steps) => bar.start(steps, 0, { stage, note: '' }),
    step: (done, note) => bar.update(done, { note }),
    end: () => bar.stop(),
  };
}

/** Eight lines a stage at the most, for logs. */
function linesOn(stream: NodeJS.WriteStream): Progress {
  let all = 1;
  let shown = 0;
  let label = '';
  return {
    begin: (stage, steps) => {
      [label, all, shown] = [stage, steps, 0];
    },
    step: (done, note) => {
      const eighth = Math.floor((8 * done) / all);
      if (eighth <= shown) return;
      shown = eighth;
      stream.write(`${label}: ${Math.round((100 * done) / all)} %  ${note}\n`);
    },
    end: () => {},
  };
}

/** What the bar says of the shift; with the bar it fits into eighty columns. */
export function shiftNote(floor: Floor, nowMs: number): string {
  const { set, refused, tested, failed, released } = floor.counts;
  const counts = `set ${set} refused ${refused} tested ${tested} failed ${failed} released ${released}`;
  return `${clockTime(nowMs)} ${counts}`;
}
