import { Router } from 'express';
import { Problem, type ProblemSlug, problemCatalogue } from '../problems.js';
import { refuseOtherMethods } from './methods.js';

interface ProblemPage {
  type: string;
  title: string;
  status: number;
  about: string;
}

function pageOf(slug: ProblemSlug): ProblemPage {
  const [status, title, about] = problemCatalogue[slug];
  return { type: `/problems/${slug}`, title, status, about };
}

/** The addresses that problem types name: each tells what the problem is and what to do. */
export function problemPages(): Router {
  const router = Router();
  const slugs = Object.keys(problemCatalogue) as ProblemSlug[];
  router
    .route('/problems')
    .get((_req, res) => {
      res.json({ items: slugs.map(pageOf) });
    })
    .all(refuseOtherMethods(['GET']));
  router
    .route('/problems/:slug')
    .get((req, res) => {
      const slug = slugs.find((one) => one === req.params.slug);
      if (!slug) throw new Problem('route-unknown', `There is no problem type ${req.params.slug}.`);
      res.json(pageOf(slug));
    })
    .all(refuseOtherMethods(['GET']));
  return router;
}
