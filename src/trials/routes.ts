import type { Route } from '../http/route.js';

export const trialRoutes: readonly Route[] = [];
