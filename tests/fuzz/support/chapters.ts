import { draw, engineFamily } from '../../support/emissions.js';
import type { TestPlant } from '../../support/plant.js';
import {
  closeRepair,
  enter,
  failedMotor,
  goodFastening,
  hold,
  openRun,
  order,
  passing,
  runMotor,
  setMotor,
  specificationDraft,
} from '../../support/scenario.js';
import { bringBack, ship } from '../../support/shipped.js';

/** A part of a plant's life: it sends commands that are taken, and leaves things in every state. */
type Chapter = (plant: TestPlant) => Promise<unknown>;

const DAY = 24 * 60 * 60 * 1000;
const reason = 'For the fuzzer';
const dayOf = (plant: TestPlant) => new Date(plant.now).toISOString().slice(0, 10);

const access: Chapter = async (plant) => {
  const draft = { name: 'visitor', roles: ['read'] };
  const { key } = await plant.make<{ key: { id: number } }>('admin', '/v1/keys', draft);
  await plant.make('admin', `/v1/keys/${key.id}/revocation`, {});
  await plant.make('admin', `/v1/keys/${key.id}/pseudonym`, {});
  const expiresAt = new Date(plant.now + DAY).toISOString();
  await plant.make('admin', '/v1/keys', { ...draft, name: 'guest', expiresAt });
};

const catalogue: Chapter = async (plant) => {
  const write = (path: string, body: object, as = 'configuration') => plant.make(as, path, body);
  await write('/v1/part-classes', { code: 'gearbox', name: 'A class' });
  const part = { number: 'SEALANT', revision: 'A', name: 'A part', tracking: 'lot' };
  await write('/v1/parts', part);
  for (const model of ['M-1', 'M-2']) {
    await write('/v1/models', { code: model, name: 'A model', ratedPowerKw: 40 });
  }
  const code = { kind: 'cause', code: 'seal', name: 'A cause' };
  await write('/v1/repair-codes', code, 'quality');
};

const configurations: Chapter = async (plant) => {
  const terms = { model: 'F100L', powerheadNumber: 'PH-100', lowerUnitNumber: 'LU-25' };
  const approved = { ...terms, code: 'F100L-C' };
  const one = await plant.make<{ id: number }>('configuration', '/v1/configurations', approved);
  await plant.make('configuration 2', `/v1/configurations/${one.id}/approval`, {});
  const open = { ...terms, code: 'F100L-D' };
  const two = await plant.make<{ id: number }>('configuration', '/v1/configurations', open);
  await plant.put('configuration', `/v1/configurations/${two.id}`, open, {
    headers: { 'If-Match': '"v1"' },
  });
};

const specifications: Chapter = async (plant) => {
  const draft = { ...specificationDraft(), model: 'M-1' };
  const { id } = await plant.make<{ id: number }>('quality', '/v1/specifications', draft);
  await plant.put('quality', `/v1/specifications/${id}`, draft, {
    headers: { 'If-Match': '"v1"' },
  });
  await plant.make('quality 2', `/v1/specifications/${id}/approval`, {});
  await plant.make('quality', '/v1/specifications', { ...draft, note: 'The next' });
};

const orders: Chapter = async (plant) => {
  const [closed] = [await order(plant, 3), await order(plant, 50)];
  await plant.make('configuration', `/v1/orders/${closed}/closure`, { reason });
};

const units: Chapter = async (plant) => {
  const lots = [{ part: 'PRIMER', revision: '1', lot: 'LOT-1' }];
  const powerhead = await enter(plant, 'powerhead');
  const pump = await enter(plant, 'fuel-pump');
  const about = { class: 'powerhead', unit: powerhead };
  const place = { parentClass: 'powerhead', parent: powerhead, position: 'fuel-pump' };
  await plant.make('set', '/v1/installations', { ...place, childClass: 'fuel-pump', child: pump });
  const removal = { class: 'fuel-pump', unit: pump, as: 'accepted', reason };
  await plant.make('set', '/v1/removals', removal);
  await plant.make('set', '/v1/fastenings', { ...about, fastenings: [goodFastening] });
  await plant.make('set', '/v1/lot-uses', { ...about, lots });
  const inspection = { ...about, result: 'accepted', note: 'Looked at', station: 'INSPECT-1' };
  await plant.make('set', '/v1/inspections', inspection);
  const id = await hold(plant, 'powerhead', powerhead);
  await plant.make('quality', `/v1/holds/${id}/lift`, { reason });
  await hold(plant, 'powerhead', await enter(plant, 'powerhead'));
  for (let i = 0; i < 12; i += 1) {
    const components = [{ class: 'fuel-pump', serial: await enter(plant, 'fuel-pump') }];
    await enter(plant, 'powerhead', { components });
    await enter(plant, 'lower-unit', { lots, station: 'BUILD-1' });
    await enter(plant, 'fuel-pump');
  }
};

const tests: Chapter = async (plant) => {
  const { motor } = await setMotor(plant);
  const run = await openRun(plant, motor);
  const readings = [{ code: 'idle-speed', value: 640, unit: '/min' }];
  await plant.make('cell', `/v1/runs/${run}/batches`, { sequence: 1, readings });
  await plant.make('cell', `/v1/runs/${run}/resumption`, { cell: 'SPARE' });
  await plant.make('cell', `/v1/runs/${run}/abort`, { reason });
  for (let i = 0; i < 8; i += 1) await setMotor(plant);
  for (let i = 0; i < 6; i += 1) await openRun(plant, (await setMotor(plant)).motor);
  for (let i = 0; i < 6; i += 1) await runMotor(plant, (await setMotor(plant)).motor);
};

const repairs: Chapter = async (plant) => {
  const failed = await failedMotor(plant);
  const fitted = { class: 'fuel-pump', serial: await enter(plant, 'fuel-pump') };
  const place = { parentClass: 'powerhead', parent: failed.powerhead, position: 'fuel-pump' };
  await plant.make('repair', `/v1/repairs/${failed.repair}/exchanges`, { ...place, fitted });
  await closeRepair(plant, failed.repair);
  const { motor } = await setMotor(plant);
  await plant.make('repair', '/v1/repairs', { motor, complaint: 'Rattles' });
  await plant.make('quality', '/v1/retests', { motor, reason });
  for (const kind of ['scrap', 'concession']) {
    const unit = (await failedMotor(plant)).motor;
    await plant.make('quality', '/v1/dispositions', { class: 'motor', unit, kind, reason });
  }
  const torn = { motor: (await setMotor(plant)).motor, reason, suspect: ['powerhead'] };
  await plant.make('repair', '/v1/teardowns', torn);
  for (let i = 0; i < 6; i += 1) {
    const { powerhead: parent, repair } = await failedMotor(plant);
    const serial = await enter(plant, 'fuel-pump');
    const spare = { parentClass: 'powerhead', parent, position: `spare-${i}` };
    const body = { ...spare, fitted: { class: 'fuel-pump', serial } };
    await plant.make('repair', `/v1/repairs/${repair}/exchanges`, body);
    await failedMotor(plant);
  }
};

const releases: Chapter = async (plant) => {
  for (let i = 0; i < 2; i += 1) await ship(plant, { cell: `SHIP-${i}` });
  plant.wait(DAY);
  const { motor } = await ship(plant);
  plant.wait(DAY);
  await bringBack(plant, motor, dayOf(plant));
};

const containments: Chapter = async (plant) => {
  const lot = 'LOT-2';
  const made = [];
  for (let i = 0; i < 2; i += 1) made.push((await ship(plant, { lot })).motor);
  const where = { any: [{ lot: { part: 'PRIMER', lot } }, { not: { model: 'F100L' } }] };
  const draft = { title: 'Peels', where: { lot: { part: 'PRIMER', lot } } };
  const open = () => plant.make<{ id: number }>('quality', '/v1/containments', draft);
  const { id } = await open();
  const disposed = made.map((serial) => ({ class: 'motor', serial }));
  const evidence = { units: disposed, disposition: 'notified', evidence: 'Letter' };
  await plant.make('quality', `/v1/containments/${id}/dispositions`, evidence);
  await plant.make('quality', `/v1/containments/${id}/closure`, { reason });
  await open();
  await plant.post('read', '/v1/where-used', { where });
};

const calendars: Chapter = async (plant) => {
  const day = { name: 'A shift', weekdays: [1, 2, 3, 4, 5, 6, 7] };
  const shifts = [
    { ...day, code: 'EARLY', starts: '06:00', ends: '14:00' },
    { ...day, code: 'NIGHT', starts: '22:00', ends: '06:00' },
  ];
  plant.wait(1000);
  await plant.make('configuration', '/v1/shift-calendars', { code: 'CALENDAR', shifts });
};

const charts: Chapter = async (plant) => {
  const { motor } = await setMotor(plant);
  const again = async (value: number) => {
    const pressure = { code: 'water-pressure', value };
    await runMotor(plant, motor, [
      ...passing.filter((one) => one.code !== pressure.code),
      pressure,
    ]);
    await plant.make('quality', '/v1/retests', { motor, reason });
  };
  for (let i = 0; i < 12; i += 1) await again(100 + (i % 3));
  const chart = { kind: 'individuals', model: 'F100L', characteristic: 'water-pressure' };
  const draft = { ...chart, runs: 'all', baseline: { last: 10 } };
  const open = () => plant.make<{ id: number }>('quality', '/v1/charts', draft);
  const { id } = await open();
  await plant.make('quality', `/v1/charts/${id}/baseline`, { reason, baseline: { last: 10 } });
  await open();
  for (const value of [140, 60, 140]) await again(value);
  const signals = await plant.get('read', `/v1/charts/${id}/signals`);
  const [signal] = signals.body.items as { id: number }[];
  await plant.make('quality', `/v1/signals/${signal?.id}/acknowledgement`, { reason });
  await plant.make('quality', `/v1/charts/${id}/retirement`, { reason });
};

const references: Chapter = async (plant) => {
  const schedule = { intervalHours: 24, cells: ['C-1', 'C-2'], reason };
  const designate = async () => {
    const { motor } = await setMotor(plant);
    const draft = { motor, ...schedule, baselineRuns: 5 };
    return plant.make<{ id: number; motor: string }>('quality', '/v1/reference-motors', draft);
  };
  const { id } = await designate();
  await plant.make('quality', `/v1/reference-motors/${id}/schedule`, schedule);
  await plant.make('quality', `/v1/reference-motors/${id}/retirement`, { reason });
  const { motor } = await designate();
  for (const cell of ['C-1', 'C-2', 'C-1', 'C-2', 'C-1', 'C-2', 'C-1']) {
    plant.wait(1000);
    await plant.make('cell', '/v1/reference-runs', { motor, cell, readings: passing });
  }
};

const emissions: Chapter = async (plant) => {
  const code = 'FAMILY';
  const family = { ...engineFamily(), code };
  await plant.make('quality', '/v1/engine-families', family);
  const address = `/v1/engine-families/${code}`;
  const { code: _code, modelYear: _year, ...terms } = family;
  await plant.make('quality', `${address}/revisions`, { ...terms, reason });
  const drawn = await draw(plant, code, 3);
  const results = [
    { pollutant: 'HC+NOx', value: 12 },
    { pollutant: 'CO', value: 200 },
  ];
  const testedOn = dayOf(plant);
  const record = (motor: string | undefined) =>
    plant.make<{ id: number }>('quality', `${address}/results`, { motor, testedOn, results });
  const { id } = await record(drawn[0]);
  await record(drawn[1]);
  await plant.make('quality', `${address}/results/${id}/invalidation`, { reason });
};

const inquiries: Chapter = async (plant) => {
  const modes = [1, 2, 3, 4, 5].map((mode) => ({ mode, gramsPerHour: 20, kilowatts: 10 }));
  await plant.post('read', '/v1/emissions/weighted-result', { modes });
  const results = [18.1, 19.4, 20.6];
  await plant.post('read', '/v1/emissions/sample-size', { standard: 20, results });
};

/** Files that the two imports take. */
export const importFiles = {
  configurations: [
    'code,model,powerheadNumber,powerheadRevision,lowerUnitNumber,lowerUnitRevision,attributes,discontinued,effectiveFrom',
    'I-1,F100L,PH-100,B,LU-20,A,"{""rotation"":""right"",""colour"":""deep, blue""}",false,',
    'I-2,F100L,PH-100,,LU-20,,,,2030-01-01T00:00:00Z',
  ].join('\r\n'),
  specifications: [
    'model,prompt,caution,kind,code,name,required,unit,lower,upper,guardBand,nominal,standardUncertainty,decimals,expected,function,inputs',
    'M-2,"Warm up, ""gently""",\'=Hot,measured,speed,Speed,true,/min,600,700.5,1.25,650,0.5,0,,,',
    'M-2,"Warm up, ""gently""",\'=Hot,measured,speed-2,\'-again,false,/min,-5,,,1e-7,,1,,,',
    'M-2,Look at it,,attribute,telltale,Telltale runs,true,,,,,,,,true,,',
    'M-2,Look at it,,derived,mean,Mean,true,/min,1,9000,,,,1,,mean,speed speed-2',
  ].join('\r\n'),
};

const imports: Chapter = async (plant) => {
  const headers = { 'Content-Type': 'text/csv', 'Idempotency-Key': 'import' };
  const { configurations: one, specifications: other } = importFiles;
  const taken = [
    await plant.post('configuration', '/v1/configurations/import', one, { headers }),
    await plant.post('quality', '/v1/specifications/import', other, { headers }),
  ];
  for (const { status, text } of taken) if (status >= 300) throw new Error(text);
};

/** In this order: an earlier one makes what a later one needs. */
export const chapters: readonly Chapter[] = [
  access,
  catalogue,
  configurations,
  specifications,
  imports,
  orders,
  units,
  tests,
  repairs,
  releases,
  containments,
  calendars,
  charts,
  references,
  emissions,
  inquiries,
];
