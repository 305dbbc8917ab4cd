// One open trial: what the station last said of it, and the plan as it is being written.

import { getContext, setContext } from 'svelte';
import type { Plan } from '../client/plan';
import { checkPlan, savePlan, trial } from '../client/station';
import { asTrouble, type Trouble } from '../client/trouble';
import type { PlanCheck, Remark, TrialView } from '../client/views';
import { Doing } from '../desk/doing.svelte';
import { forget, keep, kept } from '../desk/kept';
import { differences, merge, same } from '../plan/merge';
import { sendable } from '../plan/sendable';

interface KeptDraft {
  base: Plan;
  base_version: number;
  plan: Plan;
}

/** Somebody else saved the plan while this one was being written. */
export interface Overtaken {
  version: number;
  plan: Plan;
  /** Places that both changed. */
  both: string[];
  merged: Plan;
}

/** A pause in typing after which the draft is checked. */
const PAUSE_MS = 450;

export class TrialDesk {
  view = $state.raw<TrialView>() as TrialView;
  /** The plan as it is written right now, saved or not. */
  plan = $state() as Plan;
  check = $state.raw<PlanCheck | undefined>(undefined);
  checkTrouble = $state.raw<Trouble | undefined>(undefined);
  checking = $state(false);
  overtaken = $state.raw<Overtaken | undefined>(undefined);
  reason = $state('');
  keptHere = $state(true);
  readonly saving = new Doing();
  readonly code: string;

  private base = $state.raw() as Plan;
  private baseVersion = $state(0);
  private timer: ReturnType<typeof setTimeout> | undefined;
  private asked: AbortController | undefined;

  constructor(view: TrialView) {
    this.code = view.plan.trial.code;
    this.view = view;
    const draft = kept<KeptDraft>(this.draftKey);
    this.base = draft?.base ?? view.plan;
    this.baseVersion = draft?.base_version ?? view.plan_version;
    this.plan = structuredClone(draft?.plan ?? view.plan);
    if (draft && draft.base_version !== view.plan_version) this.overtake(view);
    void this.checkNow();
  }

  private get draftKey(): string {
    return `guardrow draft ${this.code}`;
  }

  get changed(): boolean {
    return !same(this.plan, this.base);
  }

  get changedPlaces(): string[] {
    return differences(this.base, this.plan);
  }

  /** What was typed but cannot be sent yet. */
  get leftOut(): Remark[] {
    return sendable($state.snapshot(this.plan) as Plan).leftOut;
  }

  /** Remarks on the plan as it is written: those of the last check, and what could not be sent. */
  get remarks(): Remark[] {
    const left = this.leftOut;
    const places = new Set(left.map((remark) => remark.place));
    const checked = this.check?.remarks ?? this.view.remarks;
    return [...left, ...checked.filter((remark) => !places.has(remark.place))];
  }

  /** Called whenever the plan was typed in: keeps the draft and checks it after a pause. */
  typed(): void {
    if (this.changed) {
      if (this.saving.result !== '') this.saving.clear();
      const draft: KeptDraft = { base: this.base, base_version: this.baseVersion, plan: this.plan };
      this.keptHere = keep(this.draftKey, draft);
    } else forget(this.draftKey);
    clearTimeout(this.timer);
    this.timer = setTimeout(() => void this.checkNow(), PAUSE_MS);
  }

  async checkNow(): Promise<void> {
    this.asked?.abort();
    const asked = new AbortController();
    this.asked = asked;
    this.checking = true;
    try {
      this.check = await checkPlan(sendable($state.snapshot(this.plan) as Plan).plan, asked.signal);
      this.checkTrouble = undefined;
    } catch (thrown) {
      if (!asked.signal.aborted) this.checkTrouble = asTrouble(thrown);
    } finally {
      if (this.asked === asked) this.checking = false;
    }
  }

  async save(): Promise<boolean> {
    const { plan, leftOut } = sendable($state.snapshot(this.plan) as Plan);
    if (leftOut.length > 0) return false;
    const saved = await this.saving.record(
      'Saving the plan',
      async (by) => {
        const body = { plan, expected_version: this.baseVersion, by, reason: this.reason };
        try {
          return await savePlan(this.code, body);
        } catch (thrown) {
          if (asTrouble(thrown).kind === 'stale') this.overtake(await trial(this.code));
          throw thrown;
        }
      },
      (view) => `Saved as version ${view.plan_version}.`,
    );
    if (saved) this.takeOver(saved);
    return saved !== undefined;
  }

  /** Goes on from the newer version with both people's changes; where both changed the same, mine stays. */
  joinBoth(): void {
    if (!this.overtaken) return;
    this.plan = structuredClone(this.overtaken.merged);
    this.goOnFrom(this.overtaken);
    this.typed();
  }

  /** Drops what was typed here and shows the plan as it is saved. */
  dropMine(): void {
    this.plan = structuredClone(this.overtaken?.plan ?? this.base);
    if (this.overtaken) this.goOnFrom(this.overtaken);
    this.saving.clear();
    this.typed();
  }

  /** Takes what the station now says; a draft that is being written is left alone. */
  update(view: TrialView): void {
    const untouched = !this.changed;
    this.view = view;
    if (untouched) this.takeOver(view);
  }

  async refresh(): Promise<void> {
    this.update(await trial(this.code));
  }

  private takeOver(view: TrialView): void {
    this.view = view;
    this.base = view.plan;
    this.baseVersion = view.plan_version;
    this.plan = structuredClone(view.plan);
    this.overtaken = undefined;
    this.reason = '';
    forget(this.draftKey);
    void this.checkNow();
  }

  private overtake(view: TrialView): void {
    this.view = view;
    const mine = $state.snapshot(this.plan) as Plan;
    const { value, both } = merge(this.base, mine, view.plan);
    this.overtaken = { version: view.plan_version, plan: view.plan, both, merged: value };
  }

  private goOnFrom({ plan, version }: Overtaken): void {
    this.base = plan;
    this.baseVersion = version;
    this.overtaken = undefined;
    this.saving.clear();
  }
}

const KEY = Symbol('trial');

export function provideTrial(read: () => TrialDesk): void {
  setContext(KEY, read);
}

/** The trial that the calling component is a page of. */
export function openTrial(): TrialDesk {
  return getContext<() => TrialDesk>(KEY)();
}
