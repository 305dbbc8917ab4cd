// The plan that a new trial starts from (the station adds its usual sizes of plots), and empty lines for its lists.

import type { Claim, Factor, Link, Measure, NewPlan, Rival } from '../client/plan';

export function blankPlan(season: number): NewPlan {
  return {
    format: 'guardrow plan 1',
    trial: { code: '', title: '', season, site: '', crop: '', currency: '', people: [] },
    question: { decision: '', who_acts: '', claims: [], links: [], rivals: [] },
    treatments: { factors: [], controls: [] },
    arrangement: { kind: 'randomised_blocks', replicates: 4 },
    measures: [],
    exclusion_rule: '',
  };
}

export const blankClaim = (): Claim => ({
  statement: '',
  measure: '',
  comparison: { first: { level: '' }, second: { level: '' } },
  direction: 'higher',
});

export const blankLink = (): Link => ({ step: '', measure: '', direction: 'higher', when: '' });
export const blankRival = (): Rival => ({ explanation: '', measure: '' });
export const blankMeasure = (): Measure => ({ key: '', name: '', unit: '', event: '', method: '' });

export const blankFactor = (): Factor => ({
  name: '',
  scale: { kind: 'qualitative' },
  levels: [{ label: '' }, { label: '' }],
});

/** `Stand, early` becomes `stand_early`: the column name of a measure in every table. */
export function keyOf(name: string, taken: readonly string[] = []): string {
  const plain = name
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[\u0300-\u036f]/g, '')
    .replace(/[^a-z0-9]+/g, '_')
    .replace(/^_+|_+$/g, '')
    .replace(/^(\d)/, 'm_$1');
  if (plain === '' || !taken.includes(plain)) return plain;
  let number = 2;
  while (taken.includes(`${plain}_${number}`)) number += 1;
  return `${plain}_${number}`;
}
