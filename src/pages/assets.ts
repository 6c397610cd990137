import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Request, Response } from 'express';
import { packageFile } from '../package-root.js';
import { Problem } from '../problems.js';

interface Asset {
  type: string;
  body: Buffer;
}

const SCRIPT = 'text/javascript; charset=utf-8';
const STYLE = 'text/css; charset=utf-8';
const ONE_YEAR_S = 365 * 24 * 60 * 60;

/** What browsers load beside a page, as one set under one hash: `/assets/<hash>/<name>`. */
export interface Assets {
  has: (name: string) => boolean;
  /** @throws Error when there is no such asset */
  address: (name: string) => string;
  /** Answers a GET of an asset. @throws Problem route-unknown */
  serve: (req: Request, res: Response) => void;
}

/**
 * Reads everything that browsers load: compiled scripts with the words and formats they share
 * with the service, stylesheets, and the charting library. The address carries a hash over all
 * of it, so that a browser may keep what it has and never mixes two releases.
 * @throws Error when the scripts were not built
 */
export function readAssets(): Assets {
  const files = new Map<string, Asset>([
    ...filesOf(packageFile('dist', 'assets'), '', '.js', SCRIPT),
    ...filesOf(packageFile('src', 'pages', 'style'), 'style/', '.css', STYLE),
    ['library/d3.js', library('d3', 'dist', 'd3.min.js')],
    ['library/plot.js', library('@observablehq', 'plot', 'dist', 'plot.umd.min.js')],
  ]);
  const release = hashOf(files);
  return {
    has: (name) => files.has(name),
    address(name) {
      if (!files.has(name)) throw new Error(`there is no asset ${name}`);
      return `/assets/${release}/${name}`;
    },
    serve(req, res) {
      const [, , asked, ...steps] = req.path.split('/');
      const asset = asked === release ? files.get(steps.join('/')) : undefined;
      if (!asset) throw new Problem('route-unknown', 'There is no such file in this release.');
      res.setHeader('Cache-Control', `public, max-age=${ONE_YEAR_S}, immutable`);
      res.setHeader('Content-Type', asset.type);
      res.setHeader('Content-Length', asset.body.length);
      res.end(asset.body);
    },
  };
}

function filesOf(folder: string, prefix: string, ending: string, type: string): [string, Asset][] {
  return readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((file) => file.endsWith(ending))
    .map((file) => [
      `${prefix}${file.replaceAll('\\', '/')}`,
      { type, body: readFileSync(join(folder, file)) },
    ]);
}

function library(...steps: string[]): Asset {
  return { type: SCRIPT, body: readFileSync(packageFile('node_modules', ...steps)) };
}

function hashOf(files: ReadonlyMap<string, Asset>): string {
  const hash = createHash('sha256');
  for (const [name, { body }] of [...files].sort(([a], [b]) => (a < b ? -1 : 1))) {
    hash.update(`${name}\n${body.length}\n`).update(body);
  }
  return hash.digest('base64url').slice(0, 16);
}
