// Keeps what is pinned on the Compare page, and where its axes end, in its address, so that a copied link
// shows the same, lets that and what is ticked go along wherever the page leads, and lets panels and rows
// light each other where there is no plot that would.

import { lightsOf, listenOnPage } from "../../js/lights.js";
import { remember } from "./compare-drawing.js";

const PLOT = "comparison";
const LIMITS = ["left", "right", "bottom", "top"];
/** Hidden fields of the form with what is chosen without sending it. */
const KEPT = ["pin", ...LIMITS];
const keyOf = (word) => (word === "reference" ? word : `stock-${word}`);
const wordOf = (key) => key.replace(/^stock-/, "");

function putKept(url, form) {
  for (const name of KEPT) put(url, name, form.elements[name].value);
}

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

/** Let links to another order, sheet or way to compare take along what was ticked and kept since. */
function carryAlong(form) {
  const stocks = tickedStocks(form);
  for (const link of document.querySelectorAll('main a[href]:not([href^="#"])')) {
    const url = new URL(link.href);
    const isTab = link.closest(".tabs") && url.pathname !== location.pathname;
    if (url.origin !== location.origin || (!url.search && !isTab)) continue;
    if (url.pathname === location.pathname) {
      put(url, "stocks", stocks.join("."));
      putKept(url, form);
    } else if (isTab) {
      url.searchParams.delete("stock");
      for (const stock of stocks) url.searchParams.append("stock", stock);
    } else if (link.matches("[data-compare-keeps]")) {
      putKept(url, form);
    } else continue;
    link.href = url.href;
  }
}

function showInAddress(form) {
  const url = new URL(location.href);
  putKept(url, form);
  history.replaceState(null, "", url);
  remember(url.search);
  const link = document.querySelector("[data-compare-link]");
  if (link) {
    const copied = new URL(link.dataset.url);
    putKept(copied, form);
    link.dataset.url = copied.href;
  }
  carryAlong(form);
}

/** Take over pins and limits into the form; where they are others than it has, into the address, too. */
function keep(form, words) {
  const changed = Object.keys(words).filter((name) => form.elements[name].value !== words[name]);
  for (const name of changed) form.elements[name].value = words[name];
  if (changed.length) showInAddress(form);
}

function keepLimits(form, plot) {
  const fields = plot.querySelector("[data-plot-limits]").elements;
  keep(form, Object.fromEntries(LIMITS.map((name) => [name, fields[name].value])));
}

export function mount(form) {
  const lights = lightsOf(PLOT);
  const plot = document.getElementById(PLOT);
  const keepPins = () => keep(form, { pin: [...lights.pinned].map(wordOf).join(".") });
  listenOnPage();
  remember(location.search);
  for (const word of form.dataset.pinned.split(".").filter(Boolean)) {
    if (!lights.pinned.has(keyOf(word))) lights.togglePin(keyOf(word));
  }
  lights.addEventListener("change", keepPins);
  plot?.addEventListener("plot:limits", () => keepLimits(form, plot));
  // The ticks stand in the table, outside of the form that they belong to.
  document.addEventListener("change", ({ target }) => {
    if (target.form === form && target.name === "stock") carryAlong(form);
  });
  // What was pinned, zoomed or ticked before this script was there.
  keepPins();
  if (plot?.hasAttribute("data-drawn")) keepLimits(form, plot);
  if ([...form.elements].some(({ checked, defaultChecked }) => checked !== defaultChecked)) carryAlong(form);
}
