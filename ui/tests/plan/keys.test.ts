import { expect, it } from 'vitest';
import { keyOf } from '../../src/plan/blank_plan';
import { codeOf } from '../../src/station/trial_code';

it.each([
  ['Stand, early', 'stand_early'],
  ['  Höhe (cm) ', 'hohe_cm'],
  ['2nd count', 'm_2nd_count'],
  ['—', ''],
])('%s gets the column name %s', (name, key) => expect(keyOf(name)).toBe(key));

it('gives no column name twice', () => expect(keyOf('Stand', ['stand', 'stand_2'])).toBe('stand_3'));

it.each([
  ['Early and late sowing of flax', 2031, 'ELSF-31'],
  ['Lodging', 2031, 'LODG-31'],
  ['Lodging', undefined, 'LODG'],
  ['', 2031, ''],
])('%s in %s gets the code %s', (title, season, code) => expect(codeOf(title, season)).toBe(code));
