import { z } from 'zod';
import { accessRoutes } from './access/routes.js';
import { calendarRoutes } from './calendar/routes.js';
import { capabilityRoutes } from './capability/routes.js';
import { catalogueRoutes } from './catalogue/routes.js';
import { specificationRoutes } from './catalogue/specification-routes.js';
import { chartRoutes } from './charts/routes.js';
import { containmentRoutes } from './containment/routes.js';
import { joinedShape } from './containment/schema.js';
import { emissionRoutes } from './emissions/routes.js';
import { genealogyRoutes } from './genealogy/routes.js';
import { treeRoutes } from './genealogy/tree-routes.js';
import type { Route } from './http/route.js';
import { orderRoutes } from './orders/routes.js';
import { pairingRoutes } from './pairing/routes.js';
import { referenceRoutes } from './reference/routes.js';
import { releaseRoutes } from './release/routes.js';
import { repairRoutes } from './repair/routes.js';
import { reportRoutes } from './report/routes.js';
import { returnRoutes } from './returns/routes.js';
import { testingRoutes } from './testing/routes.js';
import { tracingRoutes } from './tracing/routes.js';
import { trialRoutes } from './trials/routes.js';
import { unitRoutes } from './units/routes.js';
import { reworkRoutes } from './yield/rework-routes.js';
import { yieldRoutes } from './yield/routes.js';

const all: readonly Route[] = [
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
  ...treeRoutes,
  ...reportRoutes,
  ...tracingRoutes,
  ...containmentRoutes,
  ...returnRoutes,
  ...yieldRoutes,
  ...reworkRoutes,
  ...calendarRoutes,
  ...capabilityRoutes,
  ...chartRoutes,
  ...referenceRoutes,
  ...trialRoutes,
  ...emissionRoutes,
];

const contained = z.array(joinedShape).optional().meta({
  description: 'Units that joined an open containment by this command; absent where none did.',
});

/** Every route of the interface: the server mounts it, the document describes it. */
export const routes: readonly Route[] = all.map((route) =>
  route.joins && route.answer instanceof z.ZodObject
    ? { ...route, answer: route.answer.extend({ contained }) }
    : route,
);
