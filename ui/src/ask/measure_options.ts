// Measures that a claim, link or rival can be judged by.

import type { Plan } from '../client/plan';

/** What a harvest takes on every plot, besides what the plan lists. */
const AT_HARVEST = [
  { key: 'harvest_mass', name: 'Harvested mass', unit: 'kg' },
  { key: 'harvest_moisture', name: 'Grain moisture', unit: '%' },
];

const option = ({ key, name, unit }: { key: string; name: string; unit: string }) => ({
  value: key,
  label: `${name || key} (${unit || 'no unit yet'})`,
});

/** The measures of the plan; before them the yield and after them its parts, when plots are harvested. */
export function measureOptions(plan: Pick<Plan, 'measures' | 'harvest'>): { value: string; label: string }[] {
  const planned = plan.measures.filter((measure) => measure.key !== '').map(option);
  if (!plan.harvest) return planned;
  const grain = { key: 'yield', name: 'Yield at standard moisture', unit: plan.harvest.yield_unit };
  const added = AT_HARVEST.filter(({ key }) => !plan.measures.some((measure) => measure.key === key));
  return [option(grain), ...planned, ...added.map(option)];
}

/** Unit of a measure, for offering the right units beside it. */
export function unitOf(plan: Pick<Plan, 'measures' | 'harvest'>, key: string): string | undefined {
  if (key === 'yield') return plan.harvest?.yield_unit;
  return [...plan.measures, ...AT_HARVEST].find((measure) => measure.key === key)?.unit;
}
