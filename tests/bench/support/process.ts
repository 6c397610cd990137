import { readFileSync } from 'node:fs';
import { type Finding, figure, note } from './report.js';

/** Clock ticks a second in /proc/PID/stat: USER_HZ, 100 on every Linux that Node runs on (proc(5)). */
const TICKS_A_SECOND = 100;
/** Places of utime and stime after the command's closing parenthesis (proc(5)). */
const UTIME = 11;
const STIME = 12;

/** Milliseconds of processor time a process has used, all its threads together. */
export function cpuMs(pid: number | undefined): number {
  const stat = readFileSync(`/proc/${pid}/stat`, 'utf8');
  const fields = stat.slice(stat.lastIndexOf(')') + 2).split(' ');
  const ticks = Number(fields[UTIME]) + Number(fields[STIME]);
  return (ticks / TICKS_A_SECOND) * 1000;
}

/** Place of steal after `cpu` in the first line of /proc/stat (proc(5)). */
const STEAL = 8;

/**
 * Milliseconds of processor time that the host of a virtual machine gave to others while this
 * one wanted it, since it started: what no program on it can help.
 */
export function stolenMs(): number {
  const [all = ''] = readFileSync('/proc/stat', 'utf8').split('\n');
  return (Number(all.split(/\s+/)[STEAL]) / TICKS_A_SECOND) * 1000;
}

/** What the machine's host took since `before`, which was `stolenMs()` then, beside a finding. */
export function hostNote(before: number): Finding {
  return note('  taken by the machine’s host meanwhile', `${figure(stolenMs() - before)} ms`);
}

/** Bytes of memory a process holds in RAM. */
export function residentBytes(pid: number | undefined): number {
  const status = readFileSync(`/proc/${pid}/status`, 'utf8');
  return Number(/^VmRSS:\s+(\d+) kB$/m.exec(status)?.[1]) * 1024;
}
