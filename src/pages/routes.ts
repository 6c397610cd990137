import type { Screen } from './screen.js';
import { setStation } from './set-station/page.js';

/** Every screen, in the order of the navigation. */
export const screens: readonly Screen[] = [setStation];
