// The cells of the readings grid as a matrix: where the focus is, where it goes, what a block fills.

const NAME = /^d-(.+)-(\d+)$/;

export class Cells {
  constructor(table) {
    this.table = table;
    this.body = table.tBodies[0];
  }

  get rows() {
    return [...this.body.rows].map((row) => [...row.querySelectorAll("input[name^='d-']")]);
  }

  get all() {
    return this.rows.flat();
  }

  get columnCount() {
    return Math.max(...this.rows.map((row) => row.length));
  }

  place(input) {
    const rows = this.rows;
    const row = rows.findIndex((cells) => cells.includes(input));
    return { row, column: rows[row].indexOf(input) };
  }

  at(row, column) {
    return this.rows[row]?.[column];
  }

  /** The next cell in reading order: down the column, then the top of the next (or back again). */
  along(input, by) {
    const { row, column } = this.place(input);
    const height = this.rows.length;
    const order = column * height + row + by;
    if (order < 0) return undefined;
    return this.at(order % height, Math.floor(order / height));
  }

  /** One more replicate: the last cell of each row again, empty and with the next number. */
  addColumn() {
    const number = this.columnCount + 1;
    for (const cells of this.rows) {
      const cell = cells.at(-1).closest("td");
      const fresh = cell.cloneNode(true);
      const input = fresh.querySelector("input");
      const [, key] = input.name.match(NAME);
      input.name = `d-${key}-${number}`;
      input.id = input.name;
      input.value = "";
      input.defaultValue = "";
      input.setAttribute("aria-label", input.getAttribute("aria-label").replace(/\d+$/, number));
      input.removeAttribute("aria-invalid");
      delete input.dataset.saved;
      cell.after(fresh);
    }
    const head = [...this.table.querySelectorAll("th[data-replicate]")].at(-1);
    const fresh = head.cloneNode(true);
    fresh.dataset.replicate = number;
    fresh.lastChild.data = number;
    head.after(fresh);
  }

  /** Fill a block from a cell; returns what it replaced and how many values found no cell. */
  fill(input, block, mostColumns) {
    const { row, column } = this.place(input);
    const wanted = column + Math.max(...block.map((line) => line.length));
    while (this.columnCount < Math.min(wanted, mostColumns)) this.addColumn();
    const before = new Map();
    let lost = 0;
    block.forEach((line, i) =>
      line.forEach((text, j) => {
        const cell = this.at(row + i, column + j);
        if (!cell) {
          lost += text === "" ? 0 : 1;
          return;
        }
        before.set(cell, cell.value);
        cell.value = text;
      }),
    );
    return { before, lost };
  }
}
