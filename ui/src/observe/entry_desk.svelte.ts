// One table of observations with what is typed into it and not saved yet. A table of a past state takes nothing in, and
// shows nothing that was typed since; what was typed waits for the return to now.

import { saveObservations } from '../client/station';
import type { Measure } from '../client/plan';
import type { CellEntry, ObservationTable, TypedValue } from '../client/views';
import { counted, twoReadings } from '../desk/figures';
import { Doing } from '../desk/doing.svelte';
import { forget, keep, kept } from '../desk/kept';
import { today } from '../desk/moment';
import { cellText, inConflict } from './cell_text';
import { blockOf, place } from './paste_block';
import { changes, settled, understand, type Understood } from './typed_value';

export interface CellPlace {
  row: number;
  column: number;
}

/** A value after “not yet” is what was waited for; everything else that stands is corrected, and that needs a reason. */
export const needsReason = (corrects: readonly CellEntry[]): boolean => corrects.some((entry) => entry.status !== 'not_yet');

export class EntryDesk {
  table = $state.raw() as ObservationTable;
  /** What was typed, by plot and measure. */
  typed = $state<Record<string, string>>({});
  /** Cell whose details are shown. */
  chosen = $state.raw<CellPlace | undefined>(undefined);
  reason = $state('');
  observedOn = $state(today());
  pasted = $state('');
  keptHere = $state(true);
  readonly saving = new Doing();
  private readonly code: string;

  /** - `before`: the table that was open, whose typed values go on when it is the same event. */
  constructor(code: string, table: ObservationTable, before?: EntryDesk) {
    this.code = code;
    this.table = table;
    const same = before?.table.event === table.event;
    this.typed = same ? before.typed : (kept<Record<string, string>>(this.keptKey) ?? {});
    if (!before || !same) return;
    const { chosen } = before;
    // On the layout of another time the same place may be another plot.
    if (chosen && before.keyAt(chosen) === this.keyAt(chosen)) this.chosen = chosen;
    this.observedOn = before.observedOn;
    this.reason = before.reason;
    this.saving.result = before.saving.result;
  }

  /** The moment whose state the table shows; nothing when it is the present one. */
  get past(): string | undefined {
    return this.table.as_of ?? undefined;
  }

  private get keptKey(): string {
    return `guardrow typed ${this.code} ${this.table.event}`;
  }

  measure(column: number): Measure {
    return this.table.measures[column] as Measure;
  }

  entries({ row, column }: CellPlace): CellEntry[] {
    return this.table.rows[row]?.cells[column] ?? [];
  }

  /** What is recorded in a cell, as text; nothing when it is open. */
  standing(at: CellPlace): string | undefined {
    const [entry] = this.entries(at);
    return entry && cellText(entry);
  }

  isConflict(at: CellPlace): boolean {
    return inConflict(this.entries(at)) && this.typedAt(at) === undefined;
  }

  /** What the cell shows: what was typed, else what is recorded. */
  text(at: CellPlace): string {
    return this.typedAt(at) ?? (inConflict(this.entries(at)) ? '' : (this.standing(at) ?? ''));
  }

  understood(at: CellPlace): Understood {
    return understand(this.text(at), this.measure(at.column));
  }

  isPending(at: CellPlace): boolean {
    return this.typedAt(at) !== undefined;
  }

  type(at: CellPlace, text: string): void {
    if (this.past !== undefined) return;
    if (this.saving.result !== '') this.saving.clear();
    const key = this.keyAt(at);
    const conflict = inConflict(this.entries(at));
    const changed = conflict ? text.trim() !== '' : changes(text, this.standing(at), this.measure(at.column));
    if (changed) this.typed[key] = text;
    else delete this.typed[key];
    this.keep();
  }

  /** Writes a short word out when the cell is left. */
  leave(at: CellPlace): void {
    const text = this.typedAt(at);
    if (text !== undefined) this.type(at, settled(text, this.measure(at.column)));
  }

  /** Takes a block from a spreadsheet; gives false when it is a single cell. */
  paste(at: CellPlace, text: string): boolean {
    const block = blockOf(text);
    if (!block) return false;
    const { inside, outside } = place(block, at.row, at.column, this.table.rows.length, this.table.measures.length);
    for (const cell of inside) {
      this.type(cell, cell.text);
      this.leave(cell);
    }
    const left = outside === 0 ? '' : ` ${counted(outside, 'value')} fell outside the table and ${outside === 1 ? 'was' : 'were'} not taken.`;
    this.pasted = `${counted(inside.length, 'value')} pasted; look at them, then save.${left}`;
    return true;
  }

  /** Cells whose comma may stand before decimals or between thousands. */
  get undecided(): CellPlace[] {
    return this.pending.filter(({ text }) => twoReadings(text)).map(({ at }) => at);
  }

  /** A person said what the comma is, for all of them. */
  decideCommas(sign: 'decimal' | 'thousands'): void {
    for (const at of this.undecided) this.type(at, this.text(at).trim().replace(',', sign === 'decimal' ? '.' : ''));
  }

  dropTyped(): void {
    this.typed = {};
    this.pasted = '';
    this.saving.clear();
    this.keep();
  }

  get pending(): { at: CellPlace; text: string; understood: Understood; corrects: CellEntry[] }[] {
    return this.table.rows.flatMap((_, row) =>
      this.table.measures.flatMap((measure, column) => {
        const at = { row, column };
        const text = this.typedAt(at);
        if (text === undefined) return [];
        return [{ at, text, understood: understand(text, measure), corrects: this.entries(at) }];
      }),
    );
  }

  async save(): Promise<ObservationTable | undefined> {
    const values = this.pending.flatMap(({ at, text, corrects }) => this.valuesOf(at, text, corrects));
    const written = await this.saving.record(
      `Saving ${counted(values.length, 'value')}`,
      (by) => saveObservations(this.code, { by, observed_on: this.observedOn, values }),
      () => `${counted(values.length, 'value')} saved.`,
    );
    if (written) {
      this.typed = {};
      this.reason = '';
      this.pasted = '';
      forget(this.keptKey);
    }
    return written;
  }

  // A cell in conflict holds several entries: the decision corrects each of them, so that none is left open.
  private valuesOf({ row, column }: CellPlace, text: string, corrects: CellEntry[]): TypedValue[] {
    const plot = this.table.rows[row]?.plot ?? 0;
    const measure = this.measure(column).key;
    const typed = settled(text, this.measure(column));
    if (corrects.length === 0) return [{ plot, measure, text: typed, reason: '' }];
    const reason = needsReason(corrects) ? this.reason.trim() : 'it was still to come';
    return corrects
      .filter((entry) => corrects.length === 1 || changes(typed, cellText(entry), this.measure(column)))
      .map((entry) => ({ plot, measure, text: typed, replaces: entry.id, reason }));
  }

  private typedAt(at: CellPlace): string | undefined {
    return this.past === undefined ? this.typed[this.keyAt(at)] : undefined;
  }

  private keyAt({ row, column }: CellPlace): string {
    return `${this.table.rows[row]?.plot}/${this.table.measures[column]?.key}`;
  }

  private keep(): void {
    if (Object.keys(this.typed).length === 0) forget(this.keptKey);
    else this.keptHere = keep(this.keptKey, this.typed);
  }
}
