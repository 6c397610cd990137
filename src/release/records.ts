import type { Database } from 'better-sqlite3';

export interface ReleaseRow {
  motorId: number;
  motor: string;
  model: string;
  order: string;
  runId: number;
  by: string;
  atMs: number;
}

const columns = `
  r.motor_id AS motorId,
  u.serial AS motor,
  m.code AS model,
  o.number AS "order",
  r.run_id AS runId,
  k.name AS "by",
  r.at_ms AS atMs
FROM releases r
CROSS JOIN units u ON u.id = r.motor_id
CROSS JOIN models m ON m.id = u.model_id
CROSS JOIN sets s ON s.motor_id = r.motor_id
CROSS JOIN orders o ON o.id = s.order_id
CROSS JOIN api_keys k ON k.id = r.key_id`;

/** Releases' SQL on one connection. */
export function releaseRecords(db: Database) {
  const ofMotor = db.prepare<[number], ReleaseRow>(`SELECT ${columns} WHERE r.motor_id = ?`);
  const list = db.prepare<[number, number], ReleaseRow>(
    `SELECT ${columns} WHERE r.motor_id > ? ORDER BY r.motor_id LIMIT ?`,
  );
  const add = db.prepare(`
    INSERT INTO releases (motor_id, run_id, key_id, at_ms)
    VALUES (@motorId, @runId, @keyId, @atMs)`);
  return {
    ofMotor: (motorId: number) => ofMotor.get(motorId),
    list: (afterMotorId: number, limit: number) =>
      list.all(afterMotorId, limit).map((row) => ({ ...row, id: row.motorId })),
    add: (row: { motorId: number; runId: number; keyId: number; atMs: number }) =>
      void add.run(row),
  };
}
