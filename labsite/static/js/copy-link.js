// Copies an address: data-url, or that of the page. <button type="button" data-module="copy-link" hidden>
// is shown only where the browser lets a page write to the clipboard.

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
    const address = new URL(button.dataset.url || location.href, location.href).href;
    let outcome = "Copied";
    try {
      await navigator.clipboard.writeText(address);
    } catch {
      outcome = "Could not copy";
    }
    button.textContent = outcome;
    status.textContent = outcome === "Copied" ? "The link was copied." : `Could not copy ${address}`;
    clearTimeout(timer);
    timer = setTimeout(() => {
      button.textContent = words;
      status.textContent = "";
    }, 2500);
  });
}
