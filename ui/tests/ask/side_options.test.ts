import { expect, it } from 'vitest';
import { sideOf, sideOptions, sideValue } from '../../src/ask/side_options';

const factor = (name: string, ...labels: string[]) => ({
  name,
  scale: { kind: 'qualitative' as const },
  levels: labels.map((label) => ({ label })),
});

it('offers levels, controls and single treatments, each coming back as it was', () => {
  const treatments = {
    factors: [factor('date', 'early', 'late'), factor('rate', '1', '2')],
    controls: [{ label: 'none', plots_per_replicate: 1 }],
  };
  const labels = ['early, 1', 'early, 2', 'late, 1', 'late, 2', 'none'];
  const options = sideOptions(treatments, labels);
  expect(options.map((option) => option.label)).toEqual([
    'date: early', 'date: late', 'rate: 1', 'rate: 2', 'control: none',
    'treatment: early, 1', 'treatment: early, 2', 'treatment: late, 1', 'treatment: late, 2',
  ]);
  for (const { value } of options) expect(sideValue(sideOf(value))).toBe(value);
});

it('offers the levels only once when there is a single factor', () =>
  expect(sideOptions({ factors: [factor('variety', 'A', 'B')] }, ['A', 'B'])).toHaveLength(2));

it('has no value for a side that was not chosen', () => expect(sideValue({ level: '' })).toBe(''));
