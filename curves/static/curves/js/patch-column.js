// The keyboard of a column of densities: Enter and arrows move, a pasted column fills the cells from here on.
// Repeats of a frame are columns of their own. Without script the cells are plain inputs, and Tab moves through
// them.

export function mount(form) {
  const columnOf = (cell) =>
    cell.dataset.patchCell ? [...form.querySelectorAll(`[data-patch-cell="${cell.dataset.patchCell}"]`)] : [];
  const goTo = (cell) => {
    cell?.focus();
    cell?.select();
  };
  form.addEventListener("keydown", (event) => {
    const cells = columnOf(event.target);
    const at = cells.indexOf(event.target);
    if (at < 0) return;
    const step = { Enter: event.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    // From the last cell Enter saves, as a form's Enter does.
    if (!step || (event.key === "Enter" && at + step >= cells.length)) return;
    event.preventDefault();
    goTo(cells[Math.max(at + step, 0)]);
  });
  form.addEventListener("paste", (event) => {
    const cells = columnOf(event.target);
    const at = cells.indexOf(event.target);
    const lines = event.clipboardData.getData("text").trim().split(/\r?\n/);
    if (at < 0 || lines.length < 2) return;
    event.preventDefault();
    lines.slice(0, cells.length - at).forEach((line, index) => {
      cells[at + index].value = line.split("\t").at(-1).trim();
    });
    goTo(cells[Math.min(at + lines.length, cells.length - 1)]);
  });
}
