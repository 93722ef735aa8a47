// Keeps what is pinned on the Compare page in its address, so that a copied link shows the same, and lets
// panels and rows light each other where there is no plot that would.

import { lightsOf, listenOnPage } from "../../js/lights.js";

const PLOT = "comparison";
const keyOf = (word) => (word === "reference" ? word : `stock-${word}`);
const wordOf = (key) => key.replace(/^stock-/, "");

function showInAddress(form, pinned) {
  const words = [...pinned].map(wordOf).join(".");
  form.elements.pin.value = words;
  const url = new URL(location.href);
  if (words) url.searchParams.set("pin", words);
  else url.searchParams.delete("pin");
  history.replaceState(null, "", url);
  const link = document.querySelector("[data-compare-link]");
  if (link) {
    const copied = new URL(link.dataset.url);
    if (words) copied.searchParams.set("pin", words);
    else copied.searchParams.delete("pin");
    link.dataset.url = copied.href;
  }
}

export function mount(form) {
  const lights = lightsOf(PLOT);
  listenOnPage();
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
}
