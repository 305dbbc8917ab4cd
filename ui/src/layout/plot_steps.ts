// From plot to plot on the map: range 1 is at the foot, pass 1 at the left.

import type { Plot } from '../client/layout';

export type Way = 'left' | 'right' | 'up' | 'down';

/** The plot that one comes to from `from` in a direction on the map; guard plots are passed over. */
export function neighbour(plots: readonly Plot[], from: Plot, way: Way): Plot | undefined {
  const along = (plot: Plot) => {
    const [right, up] = [plot.pass - from.pass, plot.range - from.range];
    return { left: [-right, up], right: [right, up], up: [up, right], down: [-up, right] }[way] as [number, number];
  };
  const ahead = plots
    .filter((plot) => plot.kind === 'plot' && plot !== from && along(plot)[0] > 0)
    // A step aside counts as four steps ahead: the way leads straight on as long as there is a plot.
    .map((plot) => ({ plot, far: along(plot)[0] + 4 * Math.abs(along(plot)[1]) }));
  return ahead.toSorted((left, right) => left.far - right.far)[0]?.plot;
}
