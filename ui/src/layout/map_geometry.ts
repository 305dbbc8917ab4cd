// Where each plot is drawn. The map is a scheme: every plot gets a cell that a thumb can hit, alleys keep their order
// and are drawn wider between replicates; the printed map is the one to scale.

import type { Layout, Plot } from '../client/layout';

export interface Cell {
  plot: Plot;
  x: number;
  y: number;
}

export interface MapGeometry {
  cells: Cell[];
  width: number;
  height: number;
  /** Replicates beside the map, each with the middle of its ranges. */
  replicates: { replicate: number; y: number; top: number; bottom: number }[];
  mainPlots: { replicate: number; mainPlot: number; x: number; y: number; width: number; height: number }[];
}

export const CELL_WIDTH = 84;
export const CELL_HEIGHT = 74;
const ALLEY = 10;
const ALLEY_OF_REPLICATE = 26;
const LEFT = 30;

export function mapGeometry(layout: Layout): MapGeometry {
  const tops = rangeTops(layout);
  const cells = layout.plots.map((plot) => ({
    plot,
    x: LEFT + (plot.pass - 1) * CELL_WIDTH,
    y: tops.get(plot.range) ?? 0,
  }));
  const height = Math.max(0, ...cells.map((cell) => cell.y + CELL_HEIGHT));
  return {
    cells,
    width: LEFT + layout.passes * CELL_WIDTH,
    height,
    replicates: outlines(cells, (plot) => plot.replicate).map(({ key, box }) => ({
      replicate: Number(key),
      y: (box.top + box.bottom) / 2,
      top: box.top,
      bottom: box.bottom,
    })),
    mainPlots: outlines(cells, (plot) => (plot.units['main plot'] === undefined || plot.kind === 'guard' ? null : `${plot.replicate}/${plot.units['main plot']}`)).map(
      ({ key, box }) => ({
        replicate: Number(String(key).split('/')[0]),
        mainPlot: Number(String(key).split('/')[1]),
        x: box.left,
        y: box.top,
        width: box.right - box.left,
        height: box.bottom - box.top,
      }),
    ),
  };
}

/** Top of each range: the back range is at the top of the map, the front range at its foot. */
function rangeTops(layout: Layout): Map<number, number> {
  const replicateOf = new Map<number, number | null>();
  for (const plot of layout.plots) {
    if (!replicateOf.has(plot.range) || plot.replicate !== null) replicateOf.set(plot.range, plot.replicate);
  }
  const tops = new Map<number, number>();
  let y = 0;
  for (let range = layout.ranges; range >= 1; range -= 1) {
    tops.set(range, y);
    const next = replicateOf.get(range - 1);
    y += CELL_HEIGHT + (next === replicateOf.get(range) ? ALLEY : ALLEY_OF_REPLICATE);
  }
  return tops;
}

interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

function outlines(cells: Cell[], keyOf: (plot: Plot) => string | number | null): { key: string | number; box: Box }[] {
  const boxes = new Map<string | number, Box>();
  for (const { plot, x, y } of cells) {
    const key = keyOf(plot);
    if (key === null || key === undefined) continue;
    const box = boxes.get(key) ?? { left: x, right: x, top: y, bottom: y };
    boxes.set(key, {
      left: Math.min(box.left, x),
      right: Math.max(box.right, x + CELL_WIDTH),
      top: Math.min(box.top, y),
      bottom: Math.max(box.bottom, y + CELL_HEIGHT),
    });
  }
  return [...boxes].map(([key, box]) => ({ key, box }));
}

export type Way = 'left' | 'right' | 'up' | 'down';

/** The plot that one comes to from `from` in a direction on the map, guard plots passed over. */
export function neighbour(cells: readonly Cell[], from: Cell, way: Way): Cell | undefined {
  const along = (cell: Cell) => {
    const [dx, dy] = [cell.x - from.x, cell.y - from.y];
    return { left: [-dx, dy], right: [dx, dy], up: [-dy, dx], down: [dy, dx] }[way] as [number, number];
  };
  const ahead = cells
    .filter((cell) => cell.plot.kind === 'plot' && cell !== from && along(cell)[0] > 0)
    .map((cell) => ({ cell, far: along(cell)[0] + 4 * Math.abs(along(cell)[1]) }));
  return ahead.toSorted((left, right) => left.far - right.far)[0]?.cell;
}

/** A treatment label in at most three lines of a plot's width. */
export function labelLines(label: string, letters = 11): string[] {
  const lines: string[] = [];
  for (const word of label.split(/(?<=,)\s+|\s+/)) {
    const last = lines.at(-1);
    if (last !== undefined && !last.endsWith(',') && `${last} ${word}`.length <= letters) lines[lines.length - 1] = `${last} ${word}`;
    else lines.push(word);
  }
  const cut = (line: string) => (line.length > letters ? `${line.slice(0, letters - 1)}…` : line);
  return lines.slice(0, 3).map((line, index) => cut(index === 2 && lines.length > 3 ? `${line}…` : line).replace(/,$/, ''));
}
