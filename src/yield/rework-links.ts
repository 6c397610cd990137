type Query = Record<string, string | number | boolean | null | undefined>;

/** An address of this interface with its query; members without a value are left out. */
export function address(path: string, query: Query): string {
  const given = Object.entries(query).flatMap(([name, value]) =>
    value === null || value === undefined ? [] : [[name, String(value)] as [string, string]],
  );
  return given.length === 0 ? path : `${path}?${new URLSearchParams(given)}`;
}

/** Where everything known of a motor is to be had. */
export function historyOfMotor(motor: string): string {
  return address('/v1/history', { class: 'motor', serial: motor });
}
