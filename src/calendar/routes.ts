import type { Route } from '../http/route.js';

export const calendarRoutes: readonly Route[] = [];
