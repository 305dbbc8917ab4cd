import { describe, expect, it } from 'vitest';
import { asSentence, inCurrency, isQuantity, ofCurrency, joined, numberOf, partsOf, shown } from '../../src/desk/figures';

describe('numberOf', () => {
  it.each([
    ['12.5', 12.5],
    ['12,5', 12.5],
    [' 7 ', 7],
    ['-3', -3],
    ['\u22123', -3],
    ['.5', 0.5],
    ['0', 0],
    ['12.', 12],
  ])('reads %s', (text, value) => expect(numberOf(text)).toBe(value));

  it.each(['', 'abc', '1.234,5', '1,234.5', '12 5', '1e3', '--2', '12.5.1', '.'])('refuses %s', (text) =>
    expect(numberOf(text)).toBeUndefined(),
  );
});

describe('quantities', () => {
  it('splits and joins without loss', () => {
    expect(partsOf('250 kg/ha')).toEqual({ amount: '250', unit: 'kg/ha' });
    expect(joined(partsOf('250 kg/ha'))).toBe('250 kg/ha');
  });

  it('keeps a unit that was chosen before the amount', () => {
    const unitOnly = joined({ amount: '', unit: 'kg/ha' });
    expect(partsOf(unitOnly)).toEqual({ amount: '', unit: 'kg/ha' });
    expect(isQuantity(unitOnly)).toBe(false);
  });

  it.each([
    ['250 kg/ha', true],
    ['250', false],
    ['kg/ha', false],
    ['', false],
    ['12 5 kg', false],
  ])('%s whole: %s', (text, whole) => expect(isQuantity(text)).toBe(whole));
});

it('shows at most the digits that were asked for', () => {
  expect(shown(13.68, 2)).toBe('13.68');
  expect(shown(13.6, 2)).toBe('13.6');
  expect(shown(62.5, 0)).toBe('63');
});

it.each([
  ['no unit is known', 'No unit is known.'],
  ['Did you mean “kg/ha”?', 'Did you mean “kg/ha”?'],
  ['it said “no.”', 'It said “no.”'],
  [' ', ''],
])('%s is told as %s', (text, sentence) => expect(asSentence(text)).toBe(sentence));

it('shows money in the currency of the trial and stores it without', () => {
  expect(inCurrency('money/ha', 'EUR')).toBe('EUR/ha');
  expect(inCurrency('money/ha', '')).toBe('money/ha');
  expect(inCurrency('kg/ha', 'EUR')).toBe('kg/ha');
  expect(ofCurrency('eur/ha', 'EUR')).toBe('money/ha');
  expect(ofCurrency('EUR', 'EUR')).toBe('money');
  expect(ofCurrency('EURO/ha', 'EUR')).toBe('EURO/ha');
  expect(ofCurrency('kg/ha', '')).toBe('kg/ha');
});
