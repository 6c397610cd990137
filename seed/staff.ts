import { Caller } from './caller.js';

const SET_STATIONS = 4;
const TEST_CELLS = 12;
const TECHNICIANS = 3;

/** Everybody who holds a key in the plant. */
export interface Staff {
  admin: Caller;
  /** Drafts configurations; the second one approves them. */
  owner: Caller;
  secondOwner: Caller;
  /** Drafts specifications and decides; the second one approves. */
  quality: Caller;
  secondQuality: Caller;
  /** The upstream inspections, which enter units. */
  inspection: Caller;
  stations: Caller[];
  cells: Caller[];
  technicians: Caller[];
  reader: Caller;
}

/** Issues a key to everybody, by the first administrator key. */
export async function hireStaff(address: string, adminToken: string): Promise<Staff> {
  const admin = new Caller(address, 'first administrator', ['admin'], adminToken);
  const hire = async (name: string, role: string): Promise<Caller> => {
    const { token } = await admin.tell<{ token: string }>('/v1/keys', { name, roles: [role] });
    return new Caller(address, name, [role], token);
  };
  const hireAll = async (names: string[], role: string): Promise<Caller[]> => {
    const callers: Caller[] = [];
    for (const name of names) callers.push(await hire(name, role));
    return callers;
  };
  return {
    admin,
    owner: await hire('configuration owner 1', 'configuration'),
    secondOwner: await hire('configuration owner 2', 'configuration'),
    quality: await hire('quality engineer 1', 'quality'),
    secondQuality: await hire('quality engineer 2', 'quality'),
    inspection: await hire('upstream inspection', 'set'),
    stations: await hireAll(numbered('SET-', SET_STATIONS), 'set'),
    cells: await hireAll(numbered('CELL-', TEST_CELLS), 'cell'),
    technicians: await hireAll(numbered('repair technician ', TECHNICIANS), 'repair'),
    reader: await hire('visitor', 'read'),
  };
}

function numbered(prefix: string, count: number): string[] {
  const width = count > 9 ? 2 : 1;
  return Array.from({ length: count }, (_, i) => `${prefix}${String(i + 1).padStart(width, '0')}`);
}
