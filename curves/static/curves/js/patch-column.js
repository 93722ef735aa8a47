// The keyboard of a column of densities: Enter and arrows move, a pasted column fills the cells from here on.
// Without script the cells are plain inputs, and Tab moves through them.

export function mount(form) {
  const cells = [...form.querySelectorAll("[data-patch-cell]")];
  const goTo = (index) => {
    cells[index]?.focus();
    cells[index]?.select();
  };
  form.addEventListener("keydown", (event) => {
    const at = cells.indexOf(event.target);
    if (at < 0) return;
    const step = { Enter: event.shiftKey ? -1 : 1, ArrowDown: 1, ArrowUp: -1 }[event.key];
    // From the last cell Enter saves, as a form's Enter does.
    if (!step || (event.key === "Enter" && at + step >= cells.length)) return;
    event.preventDefault();
    goTo(Math.max(at + step, 0));
  });
  form.addEventListener("paste", (event) => {
    const at = cells.indexOf(event.target);
    const lines = event.clipboardData.getData("text").trim().split(/\r?\n/);
    if (at < 0 || lines.length < 2) return;
    event.preventDefault();
    lines.slice(0, cells.length - at).forEach((line, index) => {
      cells[at + index].value = line.split("\t").at(-1).trim();
    });
    goTo(Math.min(at + lines.length, cells.length - 1));
  });
}
