// A fragment that has the page loaded again would call off a link that was followed a moment before: the
// reader would stay where they wanted to go from. While a page is being left, no fragment's answer counts.

// A download, or a "leave?" that was answered with no, leaves the page where it is.
const LEAVING_MS = 15_000;

let leftAt = -Infinity;

window.addEventListener("beforeunload", () => {
  leftAt = performance.now();
});
window.addEventListener("pageshow", () => {
  leftAt = -Infinity;
});
document.addEventListener("htmx:beforeOnLoad", (event) => {
  if (performance.now() - leftAt < LEAVING_MS) event.preventDefault();
});
