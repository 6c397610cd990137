import { type Carrier, refuse, type ScanAnswer, type ScanParts } from './scan.js';

/** Most characters in a serial. GS1 allows 20 in AI 21; a plain label may carry more. */
export const MAX_SERIAL_LENGTH = 40;

const SERIAL_ALPHABET = /^[A-Za-z0-9\-._/+]+$/;

/** Whether `text` can be a serial: 1 to 40 letters, digits and - . _ / + (case matters). */
export function isSerial(text: string): boolean {
  return serialProblem(text) === null;
}

/** What keeps `text` from being a serial, as a sentence for an operator; null if nothing does. */
export function serialProblem(text: string): string | null {
  if (text.length > MAX_SERIAL_LENGTH) {
    return `A serial has at most ${MAX_SERIAL_LENGTH} characters and this one has ${text.length}: scan the label of one unit only.`;
  }
  if (!SERIAL_ALPHABET.test(text)) {
    return 'A serial holds only letters, digits and - . _ / + and this one holds something else: scan again, or type the serial as printed.';
  }
  return null;
}

/**
 * The finished scan of a label, refused when it names neither a unit (serial) nor a lot, or when
 * its serial could not be typed by hand. One alphabet for every carrier means that a damaged label
 * can be typed and gives the same serial.
 */
export function completeScan(carrier: Carrier, parts: ScanParts): ScanAnswer {
  if (parts.serial === null && parts.lot === null) {
    return refuse(
      'This code carries neither a serial nor a lot: scan the label that names this one unit or this lot.',
    );
  }
  const problem = parts.serial === null ? null : serialProblem(parts.serial);
  return problem === null ? { ok: true, scan: { carrier, ...parts } } : refuse(problem);
}
