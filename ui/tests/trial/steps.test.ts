import { expect, it } from 'vitest';
import type { TrialView } from '../../src/client/views';
import { wholePlan } from '../plan/whole_plan';
import { nextStep, stepOfPlace, steps } from '../../src/trial/steps';

const view = (changes: Partial<TrialView>): TrialView => ({
  plan: wholePlan(2031),
  plan_version: 1,
  remarks: [],
  layout_versions: [],
  stage: 'asking',
  next: '',
  events: [],
  notes: [],
  publications: [],
  ...changes,
});
const remark = (weight: 'refuse' | 'warn' | 'note', place: string) => ({ weight, place, what: '', try_this: '' });

it.each([
  ['question.links[1].measure', 'ask'],
  ['measures[0].unit', 'plan'],
  ['supply.lots[0].lot', 'supply'],
])('%s is mended on the page %s', (place, step) => expect(stepOfPlace(place)).toBe(step));

it('goes where the gravest remark is mended', () => {
  expect(nextStep(view({ remarks: [remark('note', 'question.claims'), remark('warn', 'ground.plot_length_m')] }))).toBe('plan');
  expect(nextStep(view({}))).toBe('ask');
});

it('goes to the supplies only when seed is weighed by plot', () => {
  expect(nextStep(view({ stage: 'laid_out' }))).toBe('observe');
  const plan = { ...wholePlan(2031), supply: { stands: [], lots: [], emergence_pct: 85, overfill_pct: 0, reserve_pct: 0 } };
  expect(nextStep(view({ stage: 'laid_out', plan }))).toBe('supply');
});

it('marks exactly one step as next', () => {
  for (const stage of ['asking', 'planned', 'laid_out', 'in_season', 'observed'] as const) {
    expect(steps(view({ stage })).filter((step) => step.state === 'now')).toHaveLength(1);
  }
});

it('calls no step done while something is needed there', () => {
  const ask = steps(view({ stage: 'planned', remarks: [remark('refuse', 'question.decision')] })).find((step) => step.key === 'ask');
  expect(ask).toMatchObject({ state: 'waiting', note: '1 needed' });
});

it('lets a warning stand once the layout is drawn', () => {
  const remarks = [remark('warn', 'question.claims[0].margin')];
  const ask = (stage: TrialView['stage']) => steps(view({ stage, remarks })).find((step) => step.key === 'ask');
  expect(ask('planned')).toMatchObject({ state: 'waiting', note: '1 to look at' });
  expect(ask('in_season')).toMatchObject({ state: 'done', note: '1 to look at' });
});
