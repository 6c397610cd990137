import type { Route } from '../http/route.js';

export const emissionRoutes: readonly Route[] = [];
