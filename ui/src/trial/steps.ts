// How far each step of a trial is, in the words that the margin tabs and the overview use.

import type { Remark, Stage, TrialView, Weight } from '../client/views';
import type { StepKey } from '../desk/route.svelte';
import { counted } from '../desk/figures';

export type StepState = 'done' | 'now' | 'waiting' | 'not_used';

export interface Step {
  key: StepKey;
  word: string;
  question: string;
  state: StepState;
  /** How far it is, short. */
  note: string;
}

const WORDS: Record<StepKey, [string, string]> = {
  ask: ['Ask', 'What is this trial to answer?'],
  plan: ['Plan', 'What is compared, and what is measured?'],
  layout: ['Lay out', 'Where does each treatment stand?'],
  supply: ['Supply', 'Is there seed for every plot?'],
  observe: ['Observe', 'What was seen in each plot?'],
  harvest: ['Harvest', 'What did each plot yield?'],
  find: ['Find', 'What did the trial show?'],
  publish: ['Publish', 'What leaves the station?'],
};

export const STAGE_WORDS: Record<Stage, string> = {
  asking: 'being asked',
  planned: 'planned',
  laid_out: 'laid out',
  in_season: 'in season',
  observed: 'observed',
};

/** The step whose page a remark is mended on. */
export function stepOfPlace(place: string): 'ask' | 'plan' | 'supply' {
  if (place.startsWith('question')) return 'ask';
  if (place.startsWith('supply')) return 'supply';
  return 'plan';
}

/** The step at which a person goes on. */
export function nextStep(view: TrialView): StepKey {
  switch (view.stage) {
    case 'asking': {
      // The station lists the gravest first, and its sentence about what is next is about that one.
      const first = view.remarks.find((remark) => remark.weight !== 'note');
      return first ? stepOfPlace(first.place) : 'ask';
    }
    case 'planned':
      return 'layout';
    case 'laid_out':
      return view.plan.supply ? 'supply' : 'observe';
    case 'in_season':
      return 'observe';
    case 'observed':
      return 'find';
  }
}

export function steps(view: TrialView): Step[] {
  const next = nextStep(view);
  const reached = (stage: Stage) => ORDER.indexOf(view.stage) >= ORDER.indexOf(stage);
  const written = (key: 'ask' | 'plan'): [done: boolean, note: string] => {
    const needed = count(view.remarks, key, 'refuse');
    const doubtful = count(view.remarks, key, 'warn');
    // A warning that was still there when the layout was drawn was looked at and let stand.
    const done = needed === 0 && (doubtful === 0 || reached('laid_out'));
    return [done, needed > 0 ? `${needed} needed` : doubtful > 0 ? `${doubtful} to look at` : ''];
  };
  const notes: Record<StepKey, [done: boolean, note: string]> = {
    ask: written('ask'),
    plan: written('plan'),
    layout: [view.layout?.line.locked !== undefined, layoutNote(view)],
    supply: [view.plan.supply !== undefined && reached('in_season'), view.plan.supply ? '' : 'not used'],
    observe: [view.events.length > 0 && view.events.every((event) => event.plots > 0 && event.done === event.plots), eventsNote(view)],
    harvest: [reached('observed'), view.plan.harvest ? '' : 'not used'],
    find: [false, ''],
    publish: [view.publications.some((line) => line.kind === 'report'), view.publications.length > 0 ? counted(view.publications.length, 'document') : ''],
  };
  return (Object.keys(WORDS) as StepKey[]).map((key) => {
    const [done, note] = notes[key];
    const unused = (key === 'supply' && !view.plan.supply) || (key === 'harvest' && !view.plan.harvest);
    const state: StepState = key === next ? 'now' : done ? 'done' : unused ? 'not_used' : 'waiting';
    const [word, question] = WORDS[key];
    return { key, word, question, state, note };
  });
}

const ORDER: readonly Stage[] = ['asking', 'planned', 'laid_out', 'in_season', 'observed'];

function count(remarks: Remark[], key: 'ask' | 'plan', weight: Weight): number {
  return remarks.filter((remark) => remark.weight === weight && stepOfPlace(remark.place) === key).length;
}

function layoutNote(view: TrialView): string {
  if (!view.layout) return '';
  return view.layout.line.locked ? 'locked' : `version ${view.layout.line.version}`;
}

function eventsNote(view: TrialView): string {
  if (view.events.length === 0 || !view.layout) return '';
  const done = view.events.filter((event) => event.done === event.plots).length;
  return `${done} of ${view.events.length} events`;
}
