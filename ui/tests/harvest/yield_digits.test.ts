import { expect, it } from 'vitest';
import { digitsFor } from '../../src/harvest/yield_digits';

it.each([
  [[2143, 1980, null], 0],
  [[2.14, 1.98], 2],
  [[34.1, 29.6], 1],
  [[0.41], 3],
  [[null], 0],
])('%o is shown with %s digits', (values, digits) => expect(digitsFor(values)).toBe(digits));
