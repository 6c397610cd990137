import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { chownSync, existsSync, mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import pg from 'pg';

/** Where Debian's packages put the server's programs, a folder for each major version. */
const DEBIAN_FOLDER = '/usr/lib/postgresql';
const READY_MS = 30_000;

/** The newest installed server's folder of programs; undefined when there is none. */
export function serverPrograms(): string | undefined {
  if (!existsSync(DEBIAN_FOLDER)) return undefined;
  const versions = readdirSync(DEBIAN_FOLDER).map(Number).filter(Number.isInteger);
  return versions
    .sort((a, b) => b - a)
    .map((version) => join(DEBIAN_FOLDER, String(version), 'bin'))
    .find((folder) => existsSync(join(folder, 'initdb')));
}

/** A server of its own in a temporary folder, reached by a socket in that folder only. */
export interface Cluster {
  /** How pg connects. */
  connection: pg.ClientConfig;
  version: string;
  stop(): Promise<void>;
}

/** Makes a cluster and starts its server; everything is gone after `stop`. */
export async function startCluster(programs: string): Promise<Cluster> {
  const folder = mkdtempSync(join(tmpdir(), 'skeg-bench-postgres-'));
  const owner = serverOwner();
  if (owner) chownSync(folder, owner.uid, owner.gid);
  const data = join(folder, 'data');
  const started = { ...owner, cwd: folder };
  execFileSync(join(programs, 'initdb'), ['-D', data, '-U', 'bench', '-A', 'trust', '--no-sync'], {
    ...started,
    stdio: 'ignore',
  });
  const server = spawn(join(programs, 'postgres'), serverArguments(data, folder), {
    ...started,
    stdio: ['ignore', 'ignore', 'ignore'],
  });
  const ended = new Promise<void>((resolve) => server.once('exit', () => resolve()));
  const connection = { host: folder, user: 'bench', database: 'postgres' };
  const stop = async () => {
    server.kill('SIGINT');
    await ended;
    rmSync(folder, { recursive: true, force: true });
  };
  try {
    return { connection, version: await waitUntilReady(connection, server), stop };
  } catch (error) {
    await stop();
    throw error;
  }
}

/** Durable as the service is, with room so that no checkpoint falls into a round. */
function serverArguments(data: string, socketFolder: string): string[] {
  const settings = {
    listen_addresses: '',
    unix_socket_directories: socketFolder,
    synchronous_commit: 'on',
    fsync: 'on',
    shared_buffers: '512MB',
    max_wal_size: '4GB',
    jit: 'off',
  };
  return [
    '-D',
    data,
    ...Object.entries(settings).flatMap(([name, value]) => ['-c', `${name}=${value}`]),
  ];
}

/** The server refuses to run as root; Debian's package makes a user for it. */
function serverOwner(): { uid: number; gid: number } | undefined {
  if (process.getuid?.() !== 0) return undefined;
  const id = (flag: string) => Number(execFileSync('id', [flag, 'postgres'], { encoding: 'utf8' }));
  return { uid: id('-u'), gid: id('-g') };
}

async function waitUntilReady(config: pg.ClientConfig, server: ChildProcess): Promise<string> {
  const deadline = Date.now() + READY_MS;
  for (;;) {
    const client = new pg.Client(config);
    try {
      await client.connect();
      const { rows } = await client.query<{ server_version: string }>('SHOW server_version');
      return rows[0]?.server_version ?? '';
    } catch (error) {
      if (server.exitCode !== null || Date.now() > deadline) throw error;
      await sleep(100);
    } finally {
      await client.end().catch(() => undefined);
    }
  }
}
