// Measures that a claim, link or rival can be judged by.

import type { Measure, Plan } from '../client/plan';

export function measureOptions(plan: Pick<Plan, 'measures' | 'harvest'>): { value: string; label: string }[] {
  const planned = plan.measures
    .filter((measure) => measure.key !== '')
    .map((measure) => ({ value: measure.key, label: `${measure.name || measure.key} (${measure.unit || 'no unit yet'})` }));
  if (!plan.harvest) return planned;
  const unit = plan.harvest.yield_unit;
  return [
    { value: 'yield', label: `Yield at standard moisture (${unit})` },
    ...planned,
    { value: 'yield_as_harvested', label: `Yield as harvested (${unit})` },
    { value: 'harvest_moisture', label: 'Moisture at harvest (%)' },
  ].filter((option, index, all) => all.findIndex((other) => other.value === option.value) === index);
}

/** Unit of a measure, for offering the right units beside it. */
export function unitOf(plan: Pick<Plan, 'measures' | 'harvest'>, key: string): string | undefined {
  if (key === 'yield' || key === 'yield_as_harvested') return plan.harvest?.yield_unit;
  return plan.measures.find((measure: Measure) => measure.key === key)?.unit;
}
