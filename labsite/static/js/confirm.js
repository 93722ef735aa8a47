// Asks before what cannot be taken back: the link to the page that asks opens the same question as a
// dialog. The dialog holds the form, so nothing but the asking differs from the way without script.

export function mount(link) {
  const dialog = document.getElementById(link.dataset.dialog);
  if (!dialog?.showModal) return;
  link.setAttribute("role", "button");
  link.setAttribute("aria-haspopup", "dialog");
  const open = (event) => {
    event.preventDefault();
    dialog.showModal();
  };
  link.addEventListener("click", open);
  link.addEventListener("keydown", (event) => {
    if (event.key === " ") open(event);
  });
  dialog.querySelector("[data-dialog-close]")?.addEventListener("click", () => dialog.close());
  dialog.addEventListener("close", () => link.focus());
}
