import type { TestPlant } from './plant.js';
import { exchange } from './wire.js';

/** Signs in with the plant's key of a role, as a browser would; the header that it then sends. */
export async function signIn(plant: TestPlant, role: string): Promise<{ Cookie: string }> {
  const answer = await exchange(plant, {
    method: 'POST',
    path: '/sign-in',
    headers: {
      'Content-Type': 'application/x-www-form-urlencoded',
      'Sec-Fetch-Site': 'same-origin',
    },
    body: new URLSearchParams({ token: plant.tokens.get(role) ?? '', to: '/' }).toString(),
  });
  const [cookie = ''] = answer.headers['set-cookie'] ?? [];
  return { Cookie: cookie.split(';')[0] ?? '' };
}
