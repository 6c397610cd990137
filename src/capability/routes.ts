import type { Route } from '../http/route.js';

export const capabilityRoutes: readonly Route[] = [];
