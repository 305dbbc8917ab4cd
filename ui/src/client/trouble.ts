// Trouble in three parts: what is wrong, where, and what to try.

import type { Remark } from './views';

export interface TroubleParts {
  kind: string;
  what: string;
  place: string;
  try_this: string;
  remarks: Remark[];
}

export class Trouble extends Error {
  readonly kind: string;
  readonly place: string;
  readonly tryThis: string;
  readonly remarks: Remark[];
  readonly status: number;

  constructor(parts: TroubleParts, status = 0) {
    super(parts.what);
    this.name = 'Trouble';
    this.kind = parts.kind;
    this.place = parts.place;
    this.tryThis = parts.try_this;
    this.remarks = parts.remarks;
    this.status = status;
  }

  /** Somebody else saved in the meantime, or the layout is locked. */
  get isStale(): boolean {
    return this.status === 409;
  }
}

/** The station's answer as trouble; an answer that is not in the agreed shape is told as it stands. */
export function troubleOfAnswer(status: number, body: string, request: string): Trouble {
  const parts = errorParts(body);
  if (parts) return new Trouble(parts, status);
  return new Trouble(
    {
      kind: 'unexpected',
      what: `The station answered ${status} without saying why.`,
      place: request,
      try_this: 'Try again. If it happens again, look at what the station printed in its window.',
      remarks: [],
    },
    status,
  );
}

/** No answer came at all. */
export function troubleOfSilence(request: string): Trouble {
  return new Trouble({
    kind: 'unreachable',
    what: 'The station does not answer.',
    place: request,
    try_this: 'See whether “guardrow serve” still runs in its window, then try again. What you typed is still here.',
    remarks: [],
  });
}

/** Anything that was thrown, as trouble. */
export function asTrouble(thrown: unknown): Trouble {
  if (thrown instanceof Trouble) return thrown;
  const what = thrown instanceof Error ? thrown.message : String(thrown);
  return new Trouble({
    kind: 'page',
    what: `This page could not do that: ${what}`,
    place: 'in the browser',
    try_this: 'Load the page again. What you typed is kept until it is saved.',
    remarks: [],
  });
}

function errorParts(body: string): TroubleParts | undefined {
  try {
    const error = (JSON.parse(body) as { error?: Partial<TroubleParts> }).error;
    if (typeof error?.what !== 'string') return undefined;
    return {
      kind: error.kind ?? 'unexpected',
      what: error.what,
      place: error.place ?? '',
      try_this: error.try_this ?? '',
      remarks: error.remarks ?? [],
    };
  } catch {
    return undefined;
  }
}
