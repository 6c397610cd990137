import type { Route } from '../http/route.js';

export const reworkRoutes: readonly Route[] = [];
