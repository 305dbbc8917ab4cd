// One thing that the station is asked to do: under way, done, or refused with its reasons.

import { asTrouble, Trouble } from '../client/trouble';
import { desk } from './person.svelte';

export class Doing {
  /** What is being done right now, as shown; empty when nothing is. */
  underWay = $state('');
  /** What came of the last one. */
  result = $state('');
  trouble = $state<Trouble | undefined>(undefined);

  get busy(): boolean {
    return this.underWay !== '';
  }

  /** Runs `work` and shows it; gives its answer, or nothing when it failed. A second press while busy does nothing. */
  async run<Answer>(label: string, work: () => Promise<Answer>, said: (answer: Answer) => string) {
    if (this.busy) return undefined;
    this.underWay = label;
    this.result = '';
    this.trouble = undefined;
    try {
      const answer = await work();
      this.result = said(answer);
      return answer;
    } catch (thrown) {
      this.trouble = asTrouble(thrown);
      return undefined;
    } finally {
      this.underWay = '';
    }
  }

  /** Like [`run`], for what is recorded under a person's name. */
  async record<Answer>(label: string, work: (by: string) => Promise<Answer>, said: (answer: Answer) => string) {
    return this.run(label, () => work(nameAtDesk()), said);
  }

  clear(): void {
    this.result = '';
    this.trouble = undefined;
  }
}

function nameAtDesk(): string {
  if (desk.person !== '') return desk.person;
  document.getElementById('person-at-desk')?.focus();
  throw new Trouble({
    kind: 'no_name',
    what: 'Nobody is named at this desk, so the record could not say who did this.',
    place: '“Recorded as” at the top of the page',
    try_this: 'Write your name there, then do this again. Nothing you typed is lost.',
    remarks: [],
  });
}
