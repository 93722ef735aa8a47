// Copies an address: data-url, or that of the page; or the words of data-text. The button, written as
// <button type="button" data-module="copy-link" hidden>, is shown only where the browser lets a page write
// to the clipboard.

export function mount(button) {
  if (!navigator.clipboard) return;
  button.hidden = false;
  const words = button.textContent;
  const status = document.createElement("span");
  status.className = "visually-hidden";
  status.setAttribute("role", "status");
  button.after(status);
  let timer;
  button.addEventListener("click", async () => {
    const text = button.dataset.text;
    const copied = text || new URL(button.dataset.url || location.href, location.href).href;
    let outcome = "Copied";
    try {
      await navigator.clipboard.writeText(copied);
    } catch {
      outcome = "Could not copy";
    }
    button.textContent = outcome;
    const done = text ? "Copied." : "The link was copied.";
    status.textContent = outcome === "Copied" ? done : `Could not copy ${text ? "" : copied}`;
    clearTimeout(timer);
    timer = setTimeout(() => {
      button.textContent = words;
      status.textContent = "";
    }, 2500);
  });
}
