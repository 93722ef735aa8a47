// A <details> menu that closes on Escape, on a press elsewhere and when the focus leaves it.

export function mount(root) {
  const summary = root.querySelector("summary");
  const close = () => {
    root.open = false;
  };
  root.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !root.open) return;
    close();
    summary.focus();
  });
  root.addEventListener("focusout", (event) => {
    if (event.relatedTarget && !root.contains(event.relatedTarget)) close();
  });
  document.addEventListener("pointerdown", (event) => {
    if (!root.contains(event.target)) close();
  });
}
