// A block of cells copied from a spreadsheet: tabs between cells, line ends between rows, quotes around cells with either.

/** Rows of cells; nothing when the text is a single cell, which is pasted as plain text. */
export function blockOf(text: string): string[][] | undefined {
  const rows = parse(text.replace(/\r\n?/g, '\n'));
  const last = rows.at(-1);
  if (rows.length > 1 && last?.length === 1 && last[0] === '') rows.pop();
  return rows.length === 1 && rows[0]?.length === 1 ? undefined : rows;
}

function parse(text: string): string[][] {
  const rows: string[][] = [[]];
  let cell = '';
  let quoted = false;
  const close = () => rows.at(-1)?.push(cell.trim());
  for (let index = 0; index < text.length; index += 1) {
    const sign = text[index] ?? '';
    if (quoted && sign === '"' && text[index + 1] === '"') {
      cell += '"';
      index += 1;
    } else if (quoted && sign === '"') quoted = false;
    else if (quoted) cell += sign;
    else if (sign === '"' && cell === '') quoted = true;
    else if (sign === '\t' || sign === '\n') {
      close();
      cell = '';
      if (sign === '\n') rows.push([]);
    } else cell += sign;
  }
  close();
  return rows;
}

export interface Placed {
  row: number;
  column: number;
  text: string;
}

export interface Placement {
  inside: Placed[];
  /** Values that would fall beside or below the table. */
  outside: number;
}

/** Where each cell of a block falls when its first cell is put at (`row`, `column`); empty cells change nothing. */
export function place(block: readonly string[][], row: number, column: number, rows: number, columns: number): Placement {
  const inside: Placed[] = [];
  let outside = 0;
  block.forEach((cells, down) => {
    cells.forEach((text, right) => {
      if (text === '') return;
      const at = { row: row + down, column: column + right, text };
      if (at.row < rows && at.column < columns) inside.push(at);
      else outside += 1;
    });
  });
  return { inside, outside };
}
