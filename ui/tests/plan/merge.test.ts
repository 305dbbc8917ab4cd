import { describe, expect, it } from 'vitest';
import { differences, merge, same } from '../../src/plan/merge';

const base = { title: 'a', question: { decision: 'd', links: ['x', 'y'] }, replicates: 4 };

describe('merge', () => {
  it('takes what only one of them changed', () => {
    const mine = { ...base, title: 'mine' };
    const theirs = { ...base, replicates: 6 };
    expect(merge(base, mine, theirs)).toEqual({ value: { ...base, title: 'mine', replicates: 6 }, both: [] });
  });

  it('names what both changed and keeps mine there', () => {
    const mine = { ...base, question: { ...base.question, decision: 'mine' } };
    const theirs = { ...base, question: { decision: 'theirs', links: ['x', 'z'] } };
    expect(merge(base, mine, theirs)).toEqual({
      value: { ...base, question: { decision: 'mine', links: ['x', 'z'] } },
      both: ['question.decision'],
    });
  });

  it('takes a list whose length changed on both sides as one piece', () => {
    const mine = { ...base, question: { ...base.question, links: ['x', 'y', 'mine'] } };
    const theirs = { ...base, question: { ...base.question, links: ['x'] } };
    const { value, both } = merge(base, mine, theirs);
    expect(value.question.links).toEqual(['x', 'y', 'mine']);
    expect(both).toEqual(['question.links']);
  });

  it('carries a removal over', () => {
    const had: Record<string, unknown> = { ...base, premise: { words: 'w' } };
    expect(merge(had, had, { ...base }).value).toEqual(base);
    expect(merge(had, { ...base }, had).value).toEqual(base);
  });

  it('agrees when both wrote the same', () => {
    const changed = { ...base, title: 'b' };
    expect(merge(base, changed, { ...changed })).toEqual({ value: changed, both: [] });
  });
});

it('names differences as deep as it can', () => {
  const other = { title: 'a', question: { decision: 'e', links: ['x', 'z'] }, replicates: 5 };
  expect(differences(base, other)).toEqual(['question.decision', 'question.links[1]', 'replicates']);
  expect(differences(base, structuredClone(base))).toEqual([]);
});

it('takes an absent part and an undefined one for the same', () => expect(same({ a: 1, b: undefined }, { a: 1 })).toBe(true));
