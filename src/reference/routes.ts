import type { Route } from '../http/route.js';

export const referenceRoutes: readonly Route[] = [];
