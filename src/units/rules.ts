/** What the upstream inspection of a class is called in this plant's records. */
export function inspectionKindOf(unitClass: string): string {
  if (unitClass === 'lower-unit') return 'paint inspection';
  if (unitClass === 'powerhead') return 'build record';
  return 'receiving inspection';
}

/** A class of which a motor has one, joined by its set. */
export function isHalf(unitClass: string): boolean {
  return unitClass === 'powerhead' || unitClass === 'lower-unit';
}

interface Window {
  torque: number;
  torqueLower: number;
  torqueUpper: number;
  angle: number | null;
  angleLower: number | null;
  angleUpper: number | null;
}

/** A fastening conforms when torque, and angle where it has a window, lie in their windows; a limit is inside. */
export function fasteningConforms(fastening: Window): boolean {
  const { torque, torqueLower, torqueUpper, angle, angleLower, angleUpper } = fastening;
  if (torque < torqueLower || torque > torqueUpper) return false;
  if (angleLower !== null && (angle === null || angle < angleLower)) return false;
  return angleUpper === null || (angle !== null && angle <= angleUpper);
}

/**
 * The joints whose latest fastening is outside its window. The latest is the one that
 * happened last, not the one that was sent last; of two at one instant it is the one sent last.
 */
export function looseJoints(
  fastenings: readonly { joint: string; conforms: boolean; atMs: number }[],
): string[] {
  const inOrder = [...fastenings].sort((a, b) => a.atMs - b.atMs);
  const latest = new Map(inOrder.map(({ joint, conforms }) => [joint, conforms]));
  return [...latest].filter(([, conforms]) => !conforms).map(([joint]) => joint);
}

/** The cause of the holds that containments place, and only they lift. */
export const CONTAINMENT = 'containment';

/** A word for a class in a sentence to an operator. */
export function nameOfClass(unitClass: string): string {
  return unitClass === 'lower-unit' ? 'lower unit' : unitClass.replaceAll('-', ' ');
}

/** The same at the beginning of a sentence. */
export function titleOfClass(unitClass: string): string {
  const name = nameOfClass(unitClass);
  return name.charAt(0).toUpperCase() + name.slice(1);
}
