import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { packageFile } from '../../src/package-root.js';

interface Manifest {
  dependencies: Record<string, string>;
  devDependencies: Record<string, string>;
  allowScripts: Record<string, boolean>;
}

interface Locked {
  version?: string;
  resolved?: string;
  integrity?: string;
  link?: boolean;
  hasInstallScript?: boolean;
  dev?: boolean;
  devOptional?: boolean;
}

const read = <T>(name: string) => JSON.parse(readFileSync(packageFile(name), 'utf8')) as T;
const manifest = read<Manifest>('package.json');
const { packages } = read<{ packages: Record<string, Locked> }>('package-lock.json');

const own = { ...manifest.dependencies, ...manifest.devDependencies };
const locked = Object.entries(packages).filter(([path]) => path !== '');

describe('what is not ours (API8, API10)', () => {
  it.each(Object.entries(own))('%s is pinned to one version: %s', (name, version) => {
    expect(version).toMatch(/^\d+\.\d+\.\d+$/);
    expect(packages[`node_modules/${name}`]?.version).toBe(version);
  });

  it('is locked whole: each package with its version and the digest of what it must be', () => {
    expect(locked.length).toBeGreaterThan(Object.keys(own).length);
    for (const [path, { version, integrity, link }] of locked) {
      expect(link, path).toBeUndefined();
      expect(version, path).toMatch(/^\d+\.\d+\.\d+/);
      expect(integrity, path).toMatch(/^sha512-/);
    }
  });

  it('comes over TLS where the lock says from where', () => {
    for (const [path, { resolved }] of locked) {
      if (resolved !== undefined) expect(resolved, path).toMatch(/^https:/);
    }
  });

  it('runs no program of its own when it is installed, but for what is named', () => {
    const running = locked
      .filter(([, one]) => one.hasInstallScript && !one.dev && !one.devOptional)
      .map(([path]) => path.replace(/^.*node_modules\//, ''));
    expect(running.sort()).toEqual(Object.keys(manifest.allowScripts).sort());
  });
});
