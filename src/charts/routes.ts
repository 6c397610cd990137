import type { Route } from '../http/route.js';

export const chartRoutes: readonly Route[] = [];
