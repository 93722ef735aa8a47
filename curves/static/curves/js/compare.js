// Keeps what is pinned on the Compare page in its address, so that a copied link shows the same, lets what
// is pinned and ticked go along wherever the page leads, and lets panels and rows light each other where
// there is no plot that would.

import { lightsOf, listenOnPage } from "../../js/lights.js";
import { remember } from "./compare-drawing.js";

const PLOT = "comparison";
const keyOf = (word) => (word === "reference" ? word : `stock-${word}`);
const wordOf = (key) => key.replace(/^stock-/, "");

function put(url, name, words) {
  if (words) url.searchParams.set(name, words);
  else url.searchParams.delete(name);
}

/** Numbers of the stocks that are ticked now: those of the address in their order, then new ones. */
function tickedStocks(form) {
  const ticked = [...form.elements].filter(({ name, checked }) => name === "stock" && checked).map(({ value }) => value);
  const before = form.elements.order.value.split(".").filter((word) => ticked.includes(word));
  return [...new Set([...before, ...ticked])];
}

/** Let links to another order, sheet or way to compare take along what was ticked and pinned since. */
function carryAlong(form) {
  const stocks = tickedStocks(form);
  const pins = form.elements.pin.value;
  for (const link of document.querySelectorAll('main a[href]:not([href^="#"])')) {
    const url = new URL(link.href);
    const isTab = link.closest(".tabs") && url.pathname !== location.pathname;
    if (url.origin !== location.origin || (!url.search && !isTab)) continue;
    if (url.pathname === location.pathname) {
      put(url, "stocks", stocks.join("."));
      put(url, "pin", pins);
    } else if (isTab) {
      url.searchParams.delete("stock");
      for (const stock of stocks) url.searchParams.append("stock", stock);
    } else if (link.matches("[data-compare-keeps]")) {
      put(url, "pin", pins);
    } else continue;
    link.href = url.href;
  }
}

function showInAddress(form, pinned) {
  const words = [...pinned].map(wordOf).join(".");
  form.elements.pin.value = words;
  const url = new URL(location.href);
  put(url, "pin", words);
  history.replaceState(null, "", url);
  remember(url.search);
  const link = document.querySelector("[data-compare-link]");
  if (link) {
    const copied = new URL(link.dataset.url);
    put(copied, "pin", words);
    link.dataset.url = copied.href;
  }
  carryAlong(form);
}

export function mount(form) {
  const lights = lightsOf(PLOT);
  listenOnPage();
  remember(location.search);
  for (const word of form.dataset.pinned.split(".").filter(Boolean)) {
    if (!lights.pinned.has(keyOf(word))) lights.togglePin(keyOf(word));
  }
  let last = [...lights.pinned].join();
  lights.addEventListener("change", () => {
    const now = [...lights.pinned].join();
    if (now === last) return;
    last = now;
    showInAddress(form, lights.pinned);
  });
  // The ticks stand in the table, outside of the form that they belong to.
  document.addEventListener("change", ({ target }) => {
    if (target.form === form && target.name === "stock") carryAlong(form);
  });
}
