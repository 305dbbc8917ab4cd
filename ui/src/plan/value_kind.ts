// What the values of a measure are, in words and as it is stored.

import type { Measure, ValueKind } from '../client/plan';

export type Kind = ValueKind['kind'];

export const kinds: { value: Kind; label: string }[] = [
  { value: 'measured', label: 'measurements' },
  { value: 'counted', label: 'numbers of things, without an upper limit' },
  { value: 'share', label: 'so many out of so many' },
  { value: 'scored', label: 'scores on an ordered scale' },
];

export type Transform = NonNullable<Measure['transformed']>['by'];

export const transforms: { value: Transform; label: string }[] = [
  { value: 'logarithm', label: 'the logarithm' },
  { value: 'square_root', label: 'the square root' },
  { value: 'angular', label: 'the angle of a share' },
];

/** The kind in a few words, for the closed line. */
export function kindInShort(values: ValueKind | undefined): string {
  switch (values?.kind) {
    case 'counted':
      return values.searched === undefined ? 'counted' : `counted on ${values.searched}`;
    case 'share':
      return values.of === 0 ? 'a share' : `out of ${String(values.of)}`;
    case 'scored':
      return 'scored';
    default:
      return 'measured';
  }
}

/** A new kind, as far as it is known without asking; nothing is stored for measurements. */
export function newKind(kind: Kind): ValueKind | undefined {
  switch (kind) {
    case 'counted':
    case 'scored':
      return { kind };
    case 'share':
      return { kind, of: 0 };
    case 'measured':
      return undefined;
  }
}
