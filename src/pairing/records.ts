import type { Database } from 'better-sqlite3';

export interface SetRow {
  motorId: number;
  motor: string;
  model: string;
  powerheadId: number;
  lowerUnitId: number;
  orderId: number;
  order: string;
  configurationId: number;
  configuration: string;
  configurationRevision: number;
  station: string;
  setBy: string;
  atMs: number;
  tornDownAtMs: number | null;
  teardownReason: string | null;
}

export interface SetAttempt {
  id: number;
  atMs: number;
  station: string;
  by: string;
  powerheadScan: string;
  lowerUnitScan: string;
  orderNumber: string | null;
  /** `set`, or the slug of the problem that refused it. */
  outcome: string;
  detail: string;
  motor: string | null;
}

export interface AttemptFilter {
  station: string | null;
  outcome: string | null;
  fromMs: number;
  untilMs: number;
}

const setColumns = `
  s.motor_id AS motorId,
  u.serial AS motor,
  m.code AS model,
  s.powerhead_id AS powerheadId,
  s.lower_unit_id AS lowerUnitId,
  s.order_id AS orderId,
  o.number AS "order",
  s.configuration_id AS configurationId,
  c.code AS configuration,
  c.revision AS configurationRevision,
  s.station,
  k.name AS setBy,
  s.at_ms AS atMs,
  s.torn_down_at_ms AS tornDownAtMs,
  s.teardown_reason AS teardownReason
FROM sets s
CROSS JOIN units u ON u.id = s.motor_id
CROSS JOIN models m ON m.id = u.model_id
CROSS JOIN orders o ON o.id = s.order_id
CROSS JOIN configurations c ON c.id = s.configuration_id
CROSS JOIN api_keys k ON k.id = s.key_id`;

/** Sets', attempts' and the serial sequence's SQL on one connection. */
export function pairingRecords(db: Database) {
  const sequence = db.prepare<[], { next: number }>(
    'SELECT next FROM serial_sequence WHERE id = 1',
  );
  const advance = db.prepare('UPDATE serial_sequence SET next = ? WHERE id = 1');
  const addSet = db.prepare(`
    INSERT INTO sets
      (motor_id, powerhead_id, lower_unit_id, order_id, configuration_id, station, key_id, at_ms)
    VALUES
      (@motorId, @powerheadId, @lowerUnitId, @orderId, @configurationId, @station, @keyId, @atMs)`);
  const tearDown = db.prepare(`
    UPDATE sets
    SET torn_down_at_ms = MAX(at_ms, @atMs), teardown_reason = @reason
    WHERE motor_id = @motorId`);
  const ofMotor = db.prepare<[number], SetRow>(`SELECT ${setColumns} WHERE s.motor_id = ?`);
  const placeOf = db.prepare<[number], { configurationId: number; station: string }>(
    'SELECT configuration_id AS configurationId, station FROM sets WHERE motor_id = ?',
  );
  // Reads backwards over the primary key, or over sets_by_station.
  const latest = db.prepare<[number], SetRow>(
    `SELECT ${setColumns} ORDER BY s.motor_id DESC LIMIT ?`,
  );
  const latestAt = db.prepare<[string, number], SetRow>(
    `SELECT ${setColumns} WHERE s.station = ? ORDER BY s.at_ms DESC, s.motor_id DESC LIMIT ?`,
  );
  const addAttempt = db.prepare(`
    INSERT INTO set_attempts
      (at_ms, station, key_id, powerhead_scan, lower_unit_scan, order_number, outcome, detail, motor_id)
    VALUES
      (@atMs, @station, @keyId, @powerheadScan, @lowerUnitScan, @orderNumber, @outcome, @detail, @motorId)`);
  // Reads set_attempts_by_time in its order from where the page begins.
  const attempts = db.prepare<
    [AttemptFilter & { afterMs: number; afterId: number; limit: number }],
    SetAttempt
  >(`
    SELECT a.id,
           a.at_ms AS atMs,
           a.station,
           k.name AS "by",
           a.powerhead_scan AS powerheadScan,
           a.lower_unit_scan AS lowerUnitScan,
           a.order_number AS orderNumber,
           a.outcome,
           a.detail,
           u.serial AS motor
    FROM set_attempts a
    CROSS JOIN api_keys k ON k.id = a.key_id
    LEFT JOIN units u ON u.id = a.motor_id
    WHERE (a.at_ms, a.id) > (@afterMs, @afterId) AND a.at_ms < @untilMs
      AND (@station IS NULL OR a.station = @station)
      AND (@outcome IS NULL OR a.outcome = @outcome)
    ORDER BY a.at_ms, a.id
    LIMIT @limit`);
  return {
    /** The running number of the next motor serial. */
    nextNumber: () => sequence.get()?.next ?? 1,
    /** Says that numbers below this one are used up, for good. */
    advance: (next: number) => void advance.run(next),
    addSet: (row: {
      motorId: number;
      powerheadId: number;
      lowerUnitId: number;
      orderId: number;
      configurationId: number;
      station: string;
      keyId: number;
      atMs: number;
    }) => void addSet.run(row),
    tearDown: (row: { motorId: number; atMs: number; reason: string }) => void tearDown.run(row),
    ofMotor: (motorId: number) => ofMotor.get(motorId),
    /** Where a motor was set and under which configuration: what yields are counted by. */
    placeOf: (motorId: number) => placeOf.get(motorId),
    /** The latest sets, the last one first: of one station, or of all. */
    latest: (station: string | undefined, limit: number) =>
      station === undefined ? latest.all(limit) : latestAt.all(station, limit),
    addAttempt: (
      row: Omit<SetAttempt, 'id' | 'by' | 'motor'> & { keyId: number; motorId: number | null },
    ) => void addAttempt.run(row),
    /** Attempts in the order of time, from behind one. */
    attempts: (filter: AttemptFilter, after: { atMs: number; id: number } | null, limit: number) =>
      attempts.all({
        ...filter,
        afterMs: after?.atMs ?? filter.fromMs,
        afterId: after?.id ?? 0,
        limit,
      }),
  };
}
