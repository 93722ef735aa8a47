// What is chosen on a page without sending its form: kept in hidden fields of the form, in the page's address
// and in the link that is copied, so that all three lead to what is seen.

/** Fields of a plot's limits, by which they stand in addresses, too. */
export const LIMITS = ["left", "right", "bottom", "top"];

/** Put words into an address; empty ones leave it. */
export function put(url, name, words) {
  if (words) url.searchParams.set(name, words);
  else url.searchParams.delete(name);
}

/** Put the hidden fields of these names into an address. */
export function putKept(url, form, names) {
  for (const name of names) put(url, name, form.elements[name].value);
}

/** Take words by name over into the hidden fields; whether any of them is another than before. */
export function keep(form, words) {
  const changed = Object.keys(words).filter((name) => form.elements[name].value !== words[name]);
  if (!changed.length) return false;
  for (const name of changed) form.elements[name].value = words[name];
  const url = new URL(location.href);
  putKept(url, form, changed);
  history.replaceState(null, "", url);
  const link = document.querySelector('[data-module="copy-link"][data-url]');
  if (link) {
    const copied = new URL(link.dataset.url);
    putKept(copied, form, changed);
    link.dataset.url = copied.href;
  }
  return true;
}

/** Keep where the axes of a plot end; `changed` is called when they come to end elsewhere. */
export function keepLimits(form, plot, changed = () => {}) {
  const look = () => {
    const fields = plot.querySelector("[data-plot-limits]").elements;
    if (keep(form, Object.fromEntries(LIMITS.map((name) => [name, fields[name].value])))) changed();
  };
  plot.addEventListener("plot:limits", look);
  if (plot.hasAttribute("data-drawn")) look();
}
