import { describe, expect, it } from 'vitest';
import {
  fasteningConforms,
  inspectionKindOf,
  isHalf,
  looseJoints,
  nameOfClass,
} from '../../src/units/rules.js';

describe('fasteningConforms', () => {
  const window = {
    torque: 30,
    torqueLower: 28,
    torqueUpper: 32,
    angle: 90,
    angleLower: 85,
    angleUpper: 95,
  };

  it.each([
    ['in the middle of both windows', {}, true],
    ['on the lower limits', { torque: 28, angle: 85 }, true],
    ['on the upper limits', { torque: 32, angle: 95 }, true],
    ['below the torque window', { torque: 27.999 }, false],
    ['above the torque window', { torque: 32.001 }, false],
    ['below the angle window', { angle: 84.999 }, false],
    ['above the angle window', { angle: 95.001 }, false],
    ['without the angle that a window asks for', { angle: null }, false],
    ['without the angle of a lower limit alone', { angle: null, angleUpper: null }, false],
    ['without the angle of an upper limit alone', { angle: null, angleLower: null }, false],
    ['with an angle that no window asks for', { angleLower: null, angleUpper: null }, true],
    ['with no angle at all', { angle: null, angleLower: null, angleUpper: null }, true],
    ['far above a lower limit alone', { angle: 720, angleUpper: null }, true],
    ['far below an upper limit alone', { angle: -5, angleLower: null }, true],
  ])('%s', (_name, more, conforms) => {
    expect(fasteningConforms({ ...window, ...more })).toBe(conforms);
  });
});

describe('looseJoints', () => {
  const one = (joint: string, conforms: boolean, atMs = 0) => ({ joint, conforms, atMs });

  it('names no joint where there is none, or all conform', () => {
    expect(looseJoints([])).toEqual([]);
    expect(looseJoints([one('a', true), one('b', true)])).toEqual([]);
  });

  it('names each joint once, however often it was fastened badly', () => {
    expect(looseJoints([one('a', false, 1), one('b', false, 2), one('a', false, 3)])).toEqual([
      'a',
      'b',
    ]);
  });

  it('takes the fastening that happened last, whatever came in last', () => {
    expect(looseJoints([one('a', false, 1), one('a', true, 2)])).toEqual([]);
    expect(looseJoints([one('a', true, 2), one('a', false, 1)])).toEqual([]);
    expect(looseJoints([one('a', false, 2), one('a', true, 1)])).toEqual(['a']);
  });

  it('takes the one that came in last of two at one instant', () => {
    expect(looseJoints([one('a', false, 1), one('a', true, 1)])).toEqual([]);
    expect(looseJoints([one('a', true, 1), one('a', false, 1)])).toEqual(['a']);
  });
});

describe('words for classes', () => {
  it('name each class and its upstream inspection', () => {
    expect(nameOfClass('lower-unit')).toBe('lower unit');
    expect(nameOfClass('fuel-pump')).toBe('fuel pump');
    expect(nameOfClass('engine-control-unit')).toBe('engine control unit');
    expect(inspectionKindOf('lower-unit')).toBe('paint inspection');
    expect(inspectionKindOf('powerhead')).toBe('build record');
    expect(inspectionKindOf('fuel-pump')).toBe('receiving inspection');
  });

  it('say which two are halves of a motor', () => {
    expect(['powerhead', 'lower-unit', 'motor', 'fuel-pump'].filter(isHalf)).toEqual([
      'powerhead',
      'lower-unit',
    ]);
  });
});
