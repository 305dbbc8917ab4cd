// Which way a difference is expected to go, as it is chosen.

import type { Direction } from '../client/plan';

export const DIRECTIONS: { value: Direction; label: string }[] = [
  { value: 'higher', label: 'higher' },
  { value: 'lower', label: 'lower' },
  { value: 'either', label: 'either way' },
];
