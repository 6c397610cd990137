export type Dimension =
  | 'pressure'
  | 'temperature'
  | 'torque'
  | 'power'
  | 'rotational frequency'
  | 'angle'
  | 'volume flow'
  | 'mass flow'
  | 'length'
  | 'voltage'
  | 'current'
  | 'time'
  | 'ratio'
  | 'sound level'
  | 'mass'
  | 'frequency';

export interface UnitOfMeasure {
  /** UCUM code, case sensitive. */
  readonly code: string;
  /** 1..255, what the store keeps beside a reading. Never renumbered or reused. */
  readonly number: number;
  /** Only units of one dimension convert into each other. */
  readonly dimension: Dimension;
  /** What people read, after the SI Brochure and NIST SP 811. */
  readonly symbol: string;
  /** In the dimension's base unit: (value + offset) × numerator / denominator, exact decimals. */
  readonly numerator: string;
  readonly denominator: string;
  /** '0' for every unit that starts at the true zero of its quantity. */
  readonly offset: string;
}

type Row = readonly [
  number: number,
  code: string,
  symbol: string,
  numerator: string,
  denominator?: string,
  offset?: string,
];

/** 31 significant digits; the angle factors are the only ones that are not exact. */
const pi = '3.141592653589793238462643383280';

// Factors follow the UCUM definitions, built on the exact ones of NIST SP 811
// app. B: 1 in = 25.4 mm, 1 lb = 453.59237 g, g0 = 9.80665 m/s2, 1 gal = 231 in3.
// UCUM's mercury column is 133.322 kPa per metre, so its inch of mercury is
// 3386.3788 Pa; SP 811 prints 3386.389 Pa for the conventional inch (3e-6 more).
// Metric horsepower has no UCUM code and is left out.
const rows: Readonly<Record<Dimension, readonly Row[]>> = {
  pressure: [
    [1, 'Pa', 'Pa', '1'],
    [2, 'hPa', 'hPa', '100'],
    [3, 'kPa', 'kPa', '1000'],
    [4, 'MPa', 'MPa', '1000000'],
    [5, 'mbar', 'mbar', '100'],
    [6, 'bar', 'bar', '100000'],
    [7, '[psi]', 'psi', '4.4482216152605', '0.00064516'],
    [8, "[in_i'Hg]", 'inHg', '3386.3788'],
    [9, 'mm[Hg]', 'mmHg', '133.322'],
    [10, "[in_i'H2O]", 'inH₂O', '249.08891'],
    [11, 'mm[H2O]', 'mmH₂O', '9.80665'],
  ],
  temperature: [
    [20, 'K', 'K', '1'],
    [21, 'Cel', '°C', '1', '1', '273.15'],
    [22, '[degF]', '°F', '5', '9', '459.67'],
    [23, '[degR]', '°R', '5', '9'],
  ],
  torque: [
    [30, 'N.m', 'N·m', '1'],
    [31, 'cN.m', 'cN·m', '0.01'],
    [32, 'kgf.m', 'kgf·m', '9.80665'],
    [33, '[lbf_av].[ft_i]', 'lbf·ft', '1.3558179483314004'],
    [34, '[lbf_av].[in_i]', 'lbf·in', '0.1129848290276167'],
  ],
  power: [
    [40, 'W', 'W', '1'],
    [41, 'kW', 'kW', '1000'],
    [42, '[HP]', 'hp', '745.69987158227022'],
  ],
  'rotational frequency': [
    [50, '/min', 'r/min', '1'],
    [51, '{rev}/min', 'r/min', '1'],
    [52, '/s', 'r/s', '60'],
  ],
  angle: [
    [60, 'deg', '°', '1'],
    [61, 'rad', 'rad', '180', pi],
  ],
  'volume flow': [
    [70, 'L/h', 'L/h', '1'],
    [71, 'L/min', 'L/min', '60'],
    [72, 'mL/min', 'mL/min', '0.06'],
    [73, '[gal_us]/h', 'gal/h', '3.785411784'],
    [74, '[gal_us]/min', 'gal/min', '227.12470704'],
  ],
  'mass flow': [
    [80, 'g/s', 'g/s', '1'],
    [81, 'g/h', 'g/h', '1', '3600'],
    [82, 'kg/h', 'kg/h', '1000', '3600'],
    [83, '[lb_av]/h', 'lb/h', '453.59237', '3600'],
  ],
  length: [
    [90, 'mm', 'mm', '1'],
    [91, 'um', 'µm', '0.001'],
    [92, 'cm', 'cm', '10'],
    [93, 'm', 'm', '1000'],
    [94, '[in_i]', 'in', '25.4'],
    [95, '[ft_i]', 'ft', '304.8'],
    [96, '[mil_i]', 'mil', '0.0254'],
  ],
  voltage: [
    [110, 'V', 'V', '1'],
    [111, 'mV', 'mV', '0.001'],
    [112, 'kV', 'kV', '1000'],
  ],
  current: [
    [120, 'A', 'A', '1'],
    [121, 'mA', 'mA', '0.001'],
  ],
  time: [
    [130, 's', 's', '1'],
    [131, 'ms', 'ms', '0.001'],
    [132, 'min', 'min', '60'],
    [133, 'h', 'h', '3600'],
  ],
  ratio: [
    [140, '1', '', '1'],
    [141, '%', '%', '0.01'],
    [142, '[ppm]', 'ppm', '0.000001'],
  ],
  'sound level': [[150, 'dB', 'dB', '1']],
  mass: [
    [160, 'g', 'g', '1'],
    [161, 'mg', 'mg', '0.001'],
    [162, 'kg', 'kg', '1000'],
    [163, '[lb_av]', 'lb', '453.59237'],
    [164, '[oz_av]', 'oz', '28.349523125'],
  ],
  frequency: [
    [170, 'Hz', 'Hz', '1'],
    [171, 'kHz', 'kHz', '1000'],
  ],
};

/** Every unit of measure the plant's cells and tools may post, in dimension order. */
export const unitsOfMeasure: readonly UnitOfMeasure[] = Object.freeze(
  (Object.keys(rows) as Dimension[]).flatMap((dimension) =>
    rows[dimension].map(([number, code, symbol, numerator, denominator = '1', offset = '0']) =>
      Object.freeze({ code, number, dimension, symbol, numerator, denominator, offset }),
    ),
  ),
);
