import { expect, it } from 'vitest';
import { plotsOf } from '../../src/season/plot_list';

const known = [101, 102, 103, 201, 202, 203];

it.each([
  ['', []],
  ['103', [103]],
  ['203, 101', [101, 203]],
  ['201-203', [201, 202, 203]],
  ['201 - 202; 101', [101, 201, 202]],
  ['102-201', [102, 103, 201]],
])('%s names %o', (text, plots) => expect(plotsOf(text, known)).toEqual({ plots, trouble: '' }));

it('says which plot is not there', () => expect(plotsOf('101, 999', known).trouble).toContain('999'));
it('says what is not a number', () => expect(plotsOf('all', known).trouble).toContain('“all”'));
it('says why there are no plots yet', () => expect(plotsOf('101', []).trouble).toContain('layout'));
