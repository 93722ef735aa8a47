// Asks why saved readings change, but only once one of them does: <div data-module="correction"> holds
// the field; saved cells carry data-saved. Without script the field is always there.

export function mount(root) {
  const form = root.closest("form");
  const saved = [...form.querySelectorAll("input[data-saved]")].map((cell) => [cell, cell.dataset.saved]);
  const update = () => {
    const isChanged = saved.some(([cell, value]) => cell.value.trim().replace(",", ".") !== value);
    // Once shown it stays: a field that vanishes while one types elsewhere takes its text along unseen.
    if (isChanged) root.hidden = false;
  };
  root.hidden = !root.querySelector("[aria-invalid='true']") && !root.querySelector("input").value;
  update();
  for (const event of ["input", "click", "focusin", "paste"]) {
    form.addEventListener(event, () => queueMicrotask(update));
  }
}
