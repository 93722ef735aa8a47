// Keeps what is pinned on the Compare page, and where its axes end, in its address, so that a copied link
// shows the same, lets that and what is ticked go along wherever the page leads, and lets panels and rows
// light each other where there is no plot that would.

import { lightsOf, listenOnPage } from "../../js/lights.js";
import { remember, withDrawing } from "./compare-drawing.js";
import { LIMITS, keep, keepLimits, put, putKept } from "./kept-address.js";

const PLOT = "comparison";
/** Hidden fields of the form with what is chosen without sending it. */
const KEPT = ["pin", ...LIMITS];
const keyOf = (word) => (word === "reference" ? word : `stock-${word}`);
const wordOf = (key) => key.replace(/^stock-/, "");

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
      putKept(url, form, KEPT);
    } else if (isTab) {
      url.searchParams.delete("stock");
      for (const stock of stocks) url.searchParams.append("stock", stock);
    } else if (link.matches("[data-compare-keeps]")) {
      putKept(url, form, KEPT);
    } else continue;
    link.href = url.href;
  }
}

/** After what was kept has changed: other pages and links know it, too. */
function follow(form) {
  remember(location.search);
  carryAlong(form);
}

export function mount(form) {
  const asked = withDrawing(location.href);
  if (asked !== location.href) {
    location.replace(asked);
    return;
  }
  const lights = lightsOf(PLOT);
  const plot = document.getElementById(PLOT);
  const keepPins = () => {
    if (keep(form, { pin: [...lights.pinned].map(wordOf).join(".") })) follow(form);
  };
  listenOnPage();
  remember(location.search);
  for (const word of form.dataset.pinned.split(".").filter(Boolean)) {
    if (!lights.pinned.has(keyOf(word))) lights.togglePin(keyOf(word));
  }
  lights.addEventListener("change", keepPins);
  // The ticks stand in the table, outside of the form that they belong to.
  document.addEventListener("change", ({ target }) => {
    if (target.form === form && target.name === "stock") carryAlong(form);
  });
  // Now also what was pinned, zoomed or ticked before this script was there.
  keepPins();
  if (plot) keepLimits(form, plot, () => follow(form));
  if ([...form.elements].some(({ checked, defaultChecked }) => checked !== defaultChecked)) carryAlong(form);
}
