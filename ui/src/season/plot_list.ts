// Plots as a person lists them: `103, 201-204`.

export interface PlotList {
  plots: number[];
  trouble: string;
}

/** The plots that are named; a range means those of the trial that lie in it. */
export function plotsOf(text: string, known: readonly number[]): PlotList {
  const plots = new Set<number>();
  for (const part of text.replace(/\s*[-–]\s*/g, '-').split(/[,;\s]+/).filter(Boolean)) {
    const [, from, to] = /^(\d+)(?:-(\d+))?$/.exec(part) ?? [];
    if (from === undefined) return { plots: [], trouble: `“${part}” is not a plot number. Write them like 103, 201-204.` };
    const [first, last] = [Number(from), Number(to ?? from)];
    const within = known.filter((plot) => plot >= first && plot <= last);
    if (within.length === 0) {
      return { plots: [], trouble: known.length === 0 ? 'Plots have numbers only after the layout is drawn.' : `There is no plot ${part} in this layout.` };
    }
    within.forEach((plot) => plots.add(plot));
  }
  return { plots: [...plots].sort((left, right) => left - right), trouble: '' };
}
