import { describe, expect, it } from 'vitest';
import { databaseFile, readConfig } from '../../src/config.js';

describe('the configuration', () => {
  it('stands without a word: loopback, UTC, no trusted proxy', () => {
    expect(readConfig([], {})).toEqual({
      data: 'data',
      host: '127.0.0.1',
      port: 8440,
      logLevel: 'info',
      trustedProxies: 0,
      settings: {
        timeZone: 'UTC',
        serialFormat: { prefix: 'M', digits: 6, withYear: true },
      },
    });
  });

  it('takes an option before a variable, and a variable before the default', () => {
    const env = { SKEG_PORT: '1000', SKEG_HOST: '127.0.0.2', SKEG_SERIAL_YEAR: 'no' };
    const config = readConfig(['--port', '2000'], env);
    expect(config).toMatchObject({ port: 2000, host: '127.0.0.2' });
    expect(config.settings.serialFormat.withYear).toBe(false);
    expect(databaseFile(config.data)).toMatch(/^data.skeg\.db$/);
  });

  it('cannot be changed afterwards', () => {
    const config = readConfig([], {});
    expect(Object.isFrozen(config)).toBe(true);
    expect(Object.isFrozen(config.settings)).toBe(true);
    expect(Object.isFrozen(config.settings.serialFormat)).toBe(true);
  });

  it.each([
    ['SKEG_DATA', '', 'data'],
    ['SKEG_HOST', '', 'host'],
    ['SKEG_PORT', '', 'port'],
    ['SKEG_PORT', '65536', 'port'],
    ['SKEG_PORT', '-1', 'port'],
    ['SKEG_PORT', '80.5', 'port'],
    ['SKEG_PORT', '0x50', 'port'],
    ['SKEG_PORT', '1e3', 'port'],
    ['SKEG_PORT', 'http', 'port'],
    ['SKEG_LOG_LEVEL', 'loud', 'logLevel'],
    ['SKEG_TRUSTED_PROXIES', 'true', 'trustedProxies'],
    ['SKEG_TRUSTED_PROXIES', '', 'trustedProxies'],
    ['SKEG_TRUSTED_PROXIES', '11', 'trustedProxies'],
    ['SKEG_TIME_ZONE', 'Mars/Olympus', 'timeZone'],
    ['SKEG_TIME_ZONE', '', 'timeZone'],
    ['SKEG_SERIAL_PREFIX', 'm', 'serialPrefix'],
    ['SKEG_SERIAL_PREFIX', '', 'serialPrefix'],
    ['SKEG_SERIAL_DIGITS', '3', 'serialDigits'],
    ['SKEG_SERIAL_DIGITS', '13', 'serialDigits'],
    ['SKEG_SERIAL_DIGITS', '', 'serialDigits'],
    ['SKEG_SERIAL_YEAR', 'true', 'serialYear'],
  ])('is refused where %s is %j, by the setting’s name', (variable, value, name) => {
    expect(() => readConfig([], { [variable]: value })).toThrow(
      new RegExp(`^The configuration is wrong: ${name}: .+`),
    );
  });

  it('is refused with every fault at once', () => {
    const env = { SKEG_PORT: 'x', SKEG_TIME_ZONE: 'x', SKEG_SERIAL_YEAR: 'x' };
    expect(() => readConfig([], env)).toThrow(/port: .+; timeZone: .+; serialYear: /);
  });

  it('is refused with words that belong to no option', () => {
    expect(() => readConfig(['run'], {})).toThrow('run');
    expect(() => readConfig(['--port'], {})).toThrow('--port');
  });
});
