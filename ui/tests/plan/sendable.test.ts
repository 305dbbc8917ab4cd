import { expect, it } from 'vitest';
import { blankClaim, blankFactor, blankLink, blankMeasure } from '../../src/plan/blank_plan';
import { wholePlan } from './whole_plan';
import { sendable } from '../../src/plan/sendable';

it('sends a plan without half-written parts as it is', () => {
  const { plan, leftOut } = sendable(wholePlan(2031));
  expect(plan).toEqual(wholePlan(2031));
  expect(leftOut).toEqual([]);
});

it('leaves a half-written quantity out, names its place, and keeps the draft', () => {
  const draft = wholePlan(2031);
  draft.question.claims = [{ ...blankClaim(), margin: '250 ' }];
  draft.question.links = [blankLink(), { ...blankLink(), smallest: 'kg 5' }];
  const { plan, leftOut } = sendable(draft);
  expect(plan.question.claims[0]).not.toHaveProperty('margin');
  expect(plan.question.links[1]).not.toHaveProperty('smallest');
  expect(leftOut.map((remark) => remark.place)).toEqual(['question.claims[0].margin', 'question.links[1].smallest']);
  expect(draft.question.claims[0]?.margin).toBe('250 ');
});

it('sends a margin of money only when both its parts are whole', () => {
  const draft = wholePlan(2031);
  draft.question.claims = [{ ...blankClaim(), margin: { added_cost: '45 EUR/ha', price: '0,21 EUR/kg' } }];
  expect(sendable(draft).plan.question.claims[0]?.margin).toEqual({ added_cost: '45 EUR/ha', price: '0.21 EUR/kg' });
  draft.question.claims[0] = { ...blankClaim(), margin: { added_cost: '45 EUR/ha', price: '0.21' } };
  const { plan, leftOut } = sendable(draft);
  expect(plan.question.claims[0]?.margin).toBeUndefined();
  expect(leftOut[0]?.place).toBe('question.claims[0].margin.price');
});

it('remarks on a measure without a unit at the place where it stands in the draft', () => {
  const draft = wholePlan(2031);
  draft.measures = [
    { ...blankMeasure(), key: 'stand', unit: 'plants/m2' },
    { ...blankMeasure(), key: 'height' },
  ];
  const { plan, leftOut } = sendable(draft);
  expect(plan.measures.map((measure) => measure.key)).toEqual(['stand']);
  expect(leftOut[0]?.place).toBe('measures[1].unit');
});

it('drops amounts of a factor that was turned back to names', () => {
  const draft = wholePlan(2031);
  draft.treatments.factors = [{ ...blankFactor(), levels: [{ label: '30', amount: 30 }, { label: '60', amount: 60 }] }];
  expect(sendable(draft).plan.treatments.factors[0]?.levels).toEqual([{ label: '30' }, { label: '60' }]);
});

it('keeps a premise in words while its numbers are half-written', () => {
  const draft = wholePlan(2031);
  draft.question.premise = {
    words: 'the seedbed was not cold',
    condition: { measure: 'soil temperature', place: '4 cm', window: 'first 48 h', statistic: 'mean', below: true, threshold: '10 ' },
  };
  const { plan, leftOut } = sendable(draft);
  expect(plan.question.premise).toEqual({ words: 'the seedbed was not cold' });
  expect(leftOut.map((remark) => remark.place)).toEqual(['question.premise.condition.threshold']);
});
