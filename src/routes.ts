import { accessRoutes } from './access/routes.js';
import { catalogueRoutes } from './catalogue/routes.js';
import { specificationRoutes } from './catalogue/specification-routes.js';
import { genealogyRoutes } from './genealogy/routes.js';
import type { Route } from './http/route.js';
import { orderRoutes } from './orders/routes.js';
import { pairingRoutes } from './pairing/routes.js';
import { releaseRoutes } from './release/routes.js';
import { repairRoutes } from './repair/routes.js';
import { testingRoutes } from './testing/routes.js';
import { unitRoutes } from './units/routes.js';
import { yieldRoutes } from './yield/routes.js';

/** Every route of the interface: the server mounts it, the document describes it. */
export const routes: readonly Route[] = [
  ...accessRoutes,
  ...catalogueRoutes,
  ...specificationRoutes,
  ...orderRoutes,
  ...unitRoutes,
  ...pairingRoutes,
  ...testingRoutes,
  ...repairRoutes,
  ...releaseRoutes,
  ...genealogyRoutes,
  ...yieldRoutes,
];
