import { readFileSync, writeFileSync } from 'node:fs';
import { packageFile } from '../package-root.js';
import { routes } from '../routes.js';
import { documentText, makeDocument } from './document.js';

const path = packageFile('openapi.yaml');
const text = documentText(makeDocument(routes));

if (process.argv.includes('--check')) {
  if (readFileSync(path, 'utf8') !== text) {
    console.error('openapi.yaml is stale: run `npm run document` and commit it.');
    process.exitCode = 1;
  } else {
    console.log('openapi.yaml is up to date.');
  }
} else {
  writeFileSync(path, text);
  console.log('openapi.yaml written.');
}
