// The tab that leads back to Compare from the pages beside it: what those pages do not carry (how curves
// are drawn, columns, order, filters) is kept for this window, so that a look elsewhere loses none of it.

const KEPT = "compare-drawing";
const CARRIED = ["standards", "stocks", "stock", "order"];
/** Stands in the tab's address until this script is there: who follows it before still finds the drawing. */
const AGAIN = "again";

/** Keep how the comparison is drawn now. */
export function remember(query) {
  const kept = new URLSearchParams(query);
  for (const name of CARRIED) kept.delete(name);
  try {
    sessionStorage.setItem(KEPT, kept.toString());
  } catch {
    // Without storage the tab leads to the comparison as it is drawn at first.
  }
}

function recall() {
  try {
    return new URLSearchParams(sessionStorage.getItem(KEPT) ?? "");
  } catch {
    return new URLSearchParams();
  }
}

/** An address that asks for what is kept, with that; others as they are. */
export function withDrawing(href) {
  const url = new URL(href);
  if (!url.searchParams.has(AGAIN)) return href;
  url.searchParams.delete(AGAIN);
  const stocks = url.searchParams.getAll("stock");
  for (const [name, value] of recall()) {
    // A stock that was chosen on another page is hidden no longer.
    const text = name === "hide" ? value.split(".").filter((word) => !stocks.includes(word)).join(".") : value;
    if (text) url.searchParams.append(name, text);
  }
  return url.href;
}

export function mount(tab) {
  tab.href = withDrawing(tab.href);
}
