// Remarks and the fields that they belong to.

import { getContext, setContext } from 'svelte';
import type { Remark, Weight } from '../client/views';

const KEY = Symbol('remarks');

/** Fields below the calling component show the remarks that `read` gives for their place. */
export function provideRemarks(read: () => Remark[]): void {
  setContext(KEY, read);
}

export function remarksOfPage(): () => Remark[] {
  return getContext<(() => Remark[]) | undefined>(KEY) ?? (() => []);
}

export const fieldId = (place: string) => `at-${place}`;

const RANK: Record<Weight, number> = { refuse: 0, warn: 1, note: 2 };

export const gravestFirst = (remarks: Remark[]) =>
  remarks.toSorted((left, right) => RANK[left.weight] - RANK[right.weight]);

/** The same remark on several places becomes one that names them all. */
export function joinAlike(remarks: readonly Remark[]): Remark[] {
  const joined: Remark[] = [];
  for (const remark of remarks) {
    const alike = joined.find((other) => other.what === remark.what && other.try_this === remark.try_this);
    if (alike) alike.place += `; ${remark.place}`;
    else joined.push({ ...remark });
  }
  return joined;
}

/** `question.links[1].measure`, `question.links[1]`, `question.links`, `question`: the place and what it lies in. */
export function placesAround(place: string): string[] {
  const around = [place];
  let rest = place;
  while (/[.[]/.test(rest)) {
    rest = rest.replace(/(\.[^.[\]]+|\[[^\]]*\])$/, '');
    if (rest === around.at(-1)) break;
    around.push(rest);
  }
  return around;
}

/** Brings the field of a place into view and puts the cursor there; gives false when the page shows no such field. */
export function goToPlace(place: string): boolean {
  for (const around of placesAround(place)) {
    const field = document.getElementById(fieldId(around));
    if (!field) continue;
    field.closest('details')?.setAttribute('open', '');
    field.scrollIntoView({ block: 'center' });
    field.focus({ preventScroll: true });
    return true;
  }
  return false;
}
