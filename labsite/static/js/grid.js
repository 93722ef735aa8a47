// Entering readings by keyboard; see components/readings_grid.html. The form works without this: here
// come the moves between cells, pasting from a spreadsheet, checks while typing, and a safety net for
// what is typed but not saved.

import { guard } from "./dirty.js";
import { Cells } from "./grid-cells.js";
import { checkRows } from "./grid-checks.js";
import { Draft } from "./grid-draft.js";
import { commaIsDecimal, readBlock, readCell } from "./grid-values.js";

const KEEP_MS = 300;
const SAY_MS = 700; // so that a reader is not told about every digit

function optionsOf({ dataset }) {
  const number = (name, fallback) => (dataset[name] ? Number(dataset[name]) : fallback);
  return {
    minimum: number("minimum", -0.1),
    maximum: number("maximum", 6),
    isRising: dataset.direction !== "falling",
    spreadLimit: number("spreadLimit", 0.03),
    readingSd: number("readingSd", 0.01),
    mostReplicates: number("mostReplicates", 20),
  };
}

class Grid {
  constructor(form) {
    this.form = form;
    this.options = optionsOf(form);
    this.cells = new Cells(form.querySelector("table[data-grid]"));
    this.status = form.querySelector("[data-grid-status]");
    this.notice = form.querySelector("[data-grid-notice]");
    this.draft = new Draft(form.dataset.draft);
    this.undo = null;
    for (const extra of form.querySelectorAll("[data-grid-extra]")) extra.hidden = false;
    this.refusals = this.readRefusals();
    guard(form);
    this.offerDraft();
    this.check();
    this.listen();
  }

  get values() {
    return Object.fromEntries(this.cells.all.map((cell) => [cell.name, cell.value]));
  }

  listen() {
    const { body } = this.cells;
    body.addEventListener("keydown", (event) => this.onKey(event));
    body.addEventListener("paste", (event) => this.onPaste(event));
    body.addEventListener("input", ({ target }) => {
      this.undo = null;
      this.refusals.delete(target.closest("tr"));
      this.changed();
    });
    body.addEventListener("focusin", ({ target }) => target.select?.());
    this.form.querySelector("[data-grid-add]")?.addEventListener("click", (event) => {
      event.preventDefault();
      this.addColumn();
    });
    // What was typed last may still be waiting to be kept; after a refusal it stands in the form again.
    this.form.addEventListener("submit", () => {
      if (this.keeping) this.draft.keep(this.values);
    });
  }

  changed() {
    this.check();
    clearTimeout(this.keeping);
    this.keeping = setTimeout(() => this.draft.keep(this.values), KEEP_MS);
  }

  // --- Moving

  onKey(event) {
    const cell = event.target;
    if (event.isComposing || event.altKey) return;
    if (event.ctrlKey || event.metaKey) {
      if (event.key === "z" && this.undo) this.stop(event, () => this.takeBack());
      return;
    }
    if (event.key === "Enter") this.stop(event, () => this.enter(cell, event.shiftKey ? -1 : 1));
    else if (event.key === "ArrowDown") this.stop(event, () => this.move(cell, 1, 0));
    else if (event.key === "ArrowUp") this.stop(event, () => this.move(cell, -1, 0));
    else if (event.key === "ArrowRight" && atEdge(cell, 1)) this.stop(event, () => this.move(cell, 0, 1));
    else if (event.key === "ArrowLeft" && atEdge(cell, -1)) this.stop(event, () => this.move(cell, 0, -1));
  }

  stop(event, act) {
    event.preventDefault();
    act();
  }

  enter(cell, by) {
    const next = this.cells.along(cell, by);
    if (next) next.focus();
    else
      this.say(
        by > 0 ? "That was the last cell. Save the readings when all are in." : "This is the first cell.",
      );
  }

  move(cell, down, right) {
    const { row, column } = this.cells.place(cell);
    this.cells.at(row + down, column + right)?.focus();
  }

  addColumn() {
    if (this.cells.columnCount >= this.options.mostReplicates) {
      this.say(`No more than ${this.options.mostReplicates} readings a step.`);
      return;
    }
    this.cells.addColumn();
    this.cells.at(0, this.cells.columnCount - 1).focus();
    this.say(`Added reading ${this.cells.columnCount}.`);
  }

  // --- Pasting

  onPaste(event) {
    const block = readBlock(event.clipboardData.getData("text/plain"));
    if (block.length === 1 && block[0].length === 1) return; // a single value: the browser's own paste
    event.preventDefault();
    const { before, lost } = this.cells.fill(event.target, block, this.options.mostReplicates);
    this.undo = before;
    this.changed();
    const filled = `Pasted ${before.size} ${before.size === 1 ? "value" : "values"}.`;
    const left = lost ? ` ${lost} found no cell and ${lost === 1 ? "was" : "were"} left out.` : "";
    this.show(filled + left, [["Undo (Ctrl+Z)", () => this.takeBack()]]);
  }

  takeBack() {
    if (!this.undo) return;
    for (const [cell, value] of this.undo) cell.value = value;
    this.undo = null;
    this.hideNotice();
    this.changed();
    this.say("The paste was taken back.");
  }

  // --- Checking

  check() {
    const rows = this.cells.rows;
    const commaIsSure = commaIsDecimal(this.cells.all.map((cell) => cell.value));
    const readings = rows.map((cells) =>
      cells.map((cell) => readCell(cell.value, { ...this.options, commaIsSure })),
    );
    const found = checkRows(
      rows.map((cells, i) => ({
        key: cells[0].closest("tr").dataset.step,
        values: readings[i].map(({ value }) => value).filter((value) => value !== null),
      })),
      this.options,
    );
    const warnings = rows.map((cells, i) => this.mark(cells, readings[i], found[i]));
    this.count(readings.flat(), warnings.filter(Boolean).length);
    const focused = document.activeElement?.closest?.("tr");
    const here = rows.findIndex((cells) => cells[0].closest("tr") === focused);
    if (here >= 0 && warnings[here] !== this.lastWarning) {
      this.lastWarning = warnings[here];
      if (warnings[here]) this.say(`${cellName(rows[here][0])}: ${warnings[here]}`);
    }
  }

  /** What the server refused, by row: it stands until the row is changed. */
  readRefusals() {
    const refused = new Map();
    for (const cells of this.cells.rows) {
      const row = cells[0].closest("tr");
      const text = row.querySelector("[data-grid-note]").textContent.trim();
      if (text) refused.set(row, { text, cells: cells.filter((cell) => cell.hasAttribute("aria-invalid")) });
    }
    return refused;
  }

  /** Show on one row what was found; returns it as text. */
  mark(cells, readings, { mean, warnings }) {
    const row = cells[0].closest("tr");
    const note = row.querySelector("[data-grid-note]");
    const refusal = this.refusals.get(row);
    readings.forEach(({ problem }, i) => {
      if (problem || refusal?.cells.includes(cells[i])) cells[i].setAttribute("aria-invalid", "true");
      else cells[i].removeAttribute("aria-invalid");
    });
    const problems = refusal ? [refusal.text] : readings.map(({ problem }) => problem).filter(Boolean);
    const text = [...problems, ...warnings].join("; ");
    row.classList.toggle("has-problem", problems.length > 0);
    row.classList.toggle("has-warning", problems.length === 0 && warnings.length > 0);
    if (note.textContent !== text) note.textContent = text;
    row.querySelector("[data-grid-mean]").textContent =
      mean === null ? "" : mean.toFixed(3).replace("-", "−");
    return text;
  }

  count(readings, warned) {
    const place = this.form.querySelector("[data-grid-count]");
    if (!place) return;
    const filled = readings.filter(({ value }) => value !== null).length;
    const words = warned === 1 ? "1 row to look at" : `${warned} rows to look at`;
    place.textContent = `${filled} of ${readings.length} readings${warned ? `, ${words}` : ""}`;
  }

  // --- Saying

  say(text) {
    clearTimeout(this.saying);
    this.saying = setTimeout(() => {
      this.status.textContent = text;
    }, SAY_MS);
  }

  show(text, actions) {
    const words = document.createElement("span");
    words.textContent = text;
    const buttons = actions.map(([label, act]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button button-small";
      button.textContent = label;
      button.addEventListener("click", act);
      return button;
    });
    this.notice.replaceChildren(words, ...buttons);
    this.notice.hidden = false;
  }

  hideNotice() {
    this.notice.hidden = true;
    this.notice.replaceChildren();
  }

  // --- What was typed but not saved

  offerDraft() {
    const kept = this.draft.load();
    if (!kept) return;
    const now = this.values;
    const differs = Object.entries(kept.values).some(
      ([name, value]) => value !== "" && value !== (now[name] ?? ""),
    );
    if (!differs) {
      this.draft.drop();
      return;
    }
    const when = new Date(kept.savedAt).toLocaleString("en-GB", { dateStyle: "long", timeStyle: "short" });
    this.show(`Readings typed on ${when} were not saved.`, [
      ["Restore them", () => this.restore(kept.values)],
      ["Discard them", () => this.discard()],
    ]);
  }

  restore(values) {
    const columns = Math.max(...Object.keys(values).map((name) => Number(name.split("-").at(-1))));
    while (this.cells.columnCount < Math.min(columns, this.options.mostReplicates)) this.cells.addColumn();
    for (const cell of this.cells.all) {
      if (values[cell.name]) cell.value = values[cell.name];
    }
    this.hideNotice();
    this.changed();
    this.cells.at(0, 0).focus();
    this.say("The readings were restored. They are not saved yet.");
  }

  discard() {
    this.draft.drop();
    this.hideNotice();
    this.cells.at(0, 0).focus();
    this.say("The unsaved readings were discarded.");
  }
}

const cellName = (cell) => cell.getAttribute("aria-label").split(",")[0];

/** Whether an arrow key would leave the cell: all is selected, or the cursor stands at that end. */
function atEdge(cell, direction) {
  const { selectionStart: start, selectionEnd: end, value } = cell;
  if (start === 0 && end === value.length) return true;
  return start === end && (direction > 0 ? end === value.length : start === 0);
}

export function mount(form) {
  return new Grid(form);
}
