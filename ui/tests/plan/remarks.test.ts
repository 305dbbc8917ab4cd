import { expect, it } from 'vitest';
import { gravestFirst, joinAlike, placesAround } from '../../src/parts/remarks';
import type { Remark } from '../../src/client/views';

const remark = (weight: Remark['weight'], place: string, what: string): Remark => ({ weight, place, what, try_this: '' });

it('finds the fields around a place, the nearest first', () =>
  expect(placesAround('question.links[1].measure')).toEqual([
    'question.links[1].measure',
    'question.links[1]',
    'question.links',
    'question',
  ]));

it('puts the gravest first and keeps the order otherwise', () => {
  const some = [remark('note', 'a', '1'), remark('refuse', 'b', '2'), remark('warn', 'c', '3'), remark('refuse', 'd', '4')];
  expect(gravestFirst(some).map((one) => one.place)).toEqual(['b', 'd', 'c', 'a']);
});

it('joins the same remark on several places and leaves what it was given alone', () => {
  const some = [remark('note', 'packets of a', 'x'), remark('warn', 'lot', 'y'), remark('note', 'packets of b', 'x')];
  expect(joinAlike(some).map((one) => one.place)).toEqual(['packets of a; packets of b', 'lot']);
  expect(some[0]?.place).toBe('packets of a');
});
