import { z } from 'zod';
import { pageById } from '../http/cursor.js';
import { command, table } from '../http/route.js';
import { idText, pageQuery } from '../http/shapes.js';
import { issueKey, pseudonymiseKey, revokeKey } from './actions.js';
import { issuedKey, keyDraft, keyPage, keyShape, presentKey } from './schema.js';

export const accessRoutes = [
  command({
    path: '/v1/keys',
    tag: 'Access',
    summary: 'Issue an API key',
    roles: ['admin'],
    body: keyDraft,
    answer: issuedKey,
    problems: ['key-name-taken'],
    stored: (body) => ({ ...body, token: null }),
    act: (context, { body }) => {
      const { key, token } = issueKey(context, body);
      return { body: { key: presentKey(key), token }, location: `/v1/keys/${key.id}` };
    },
  }),
  table({
    path: '/v1/keys',
    tag: 'Access',
    summary: 'The API keys, without their secrets',
    roles: ['admin'],
    query: z.strictObject(pageQuery),
    item: keyShape,
    answer: keyPage,
    ask: (plant, { query }) => pageById(query, plant.access.list, presentKey),
  }),
  command({
    path: '/v1/keys/{key}/revocation',
    tag: 'Access',
    summary: 'Revoke an API key at once',
    roles: ['admin'],
    status: 200,
    params: z.strictObject({ key: idText }),
    body: z.strictObject({}),
    answer: keyShape,
    problems: ['key-unknown', 'key-is-own'],
    act: (context, { params }) => ({ body: presentKey(revokeKey(context, params.key)) }),
  }),
  command({
    path: '/v1/keys/{key}/pseudonym',
    tag: 'Access',
    summary: 'Show a former key by a number instead of its name, in every record',
    description:
      'For a person whose name is to be forgotten. The key must be revoked or expired. Stored answers to repeated requests may show the name for seven days more; what somebody wrote into a free text stays.',
    roles: ['admin'],
    status: 200,
    params: z.strictObject({ key: idText }),
    body: z.strictObject({}),
    answer: keyShape,
    problems: ['key-unknown', 'key-in-force'],
    act: (context, { params }) => ({ body: presentKey(pseudonymiseKey(context, params.key)) }),
  }),
];
