import type { Attributes } from '../http/shapes.js';

export type Half = 'powerhead' | 'lower unit';

/** An attribute for which a half is not what it should be. */
export interface AttributeConflict {
  attribute: string;
  half: Half;
  /** What this half has. */
  found: string;
  /** What the other half has, or the configuration wants. */
  wanted: string;
  wantedBy: Half | 'configuration';
}

/**
 * The first attribute in which the two halves disagree with each other, or one of
 * them with the fixed attributes of model and configuration. An attribute that a half
 * does not have decides nothing: a powerhead has no gear ratio.
 */
export function attributeConflict(
  powerhead: Attributes,
  lowerUnit: Attributes,
  fixed: Attributes,
): AttributeConflict | undefined {
  for (const [attribute, found] of Object.entries(lowerUnit)) {
    const other = powerhead[attribute];
    if (other !== undefined && other !== found) {
      return { attribute, half: 'lower unit', found, wanted: other, wantedBy: 'powerhead' };
    }
  }
  for (const [attribute, wanted] of Object.entries(fixed)) {
    const halves: [Half, string | undefined][] = [
      ['powerhead', powerhead[attribute]],
      ['lower unit', lowerUnit[attribute]],
    ];
    for (const [half, found] of halves) {
      if (found !== undefined && found !== wanted) {
        return { attribute, half, found, wanted, wantedBy: 'configuration' };
      }
    }
  }
  return undefined;
}
