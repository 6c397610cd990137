import type { SerialFormat } from './pairing/serial.js';

/** What a plant chooses. Frozen when the service starts. */
export interface Settings {
  /** IANA name of the plant's time zone; days of figures are days there. */
  timeZone: string;
  serialFormat: SerialFormat;
}
