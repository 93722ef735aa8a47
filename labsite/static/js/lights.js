// Which curve of a plot is lit (under the pointer or the cursor) and which are pinned. The plot, its
// curve list and its tables all show the same: whatever carries data-curve="KEY" inside an element with
// data-plot="ID" (or, outside any, on a page with one plot) takes the classes is-lit and is-pinned.

class Lights extends EventTarget {
  active = "";
  pinned = new Set();
  cursor = null;

  /** Keys that are shown lit. */
  get keys() {
    return new Set(this.active ? [this.active, ...this.pinned] : this.pinned);
  }

  light(key) {
    if (key === this.active) return;
    this.active = key;
    this.#tell();
  }

  togglePin(key) {
    if (!this.pinned.delete(key)) this.pinned.add(key);
    this.#tell();
  }

  clear() {
    this.active = "";
    this.pinned.clear();
    this.moveCursor(null);
    this.#tell();
  }

  moveCursor(x) {
    this.cursor = x;
    this.dispatchEvent(new Event("cursor"));
  }

  #tell() {
    this.dispatchEvent(new Event("change"));
  }
}

const byPlot = new Map();

/** The lights of the plot with this id. */
export function lightsOf(plotId) {
  if (!byPlot.has(plotId)) {
    const lights = new Lights();
    lights.addEventListener("change", () => showOnPage(plotId, lights));
    byPlot.set(plotId, lights);
  }
  return byPlot.get(plotId);
}

function plotOf(element) {
  const holder = element.closest("[data-plot]");
  return holder ? holder.dataset.plot : (document.querySelector(".plot[data-figure]")?.id ?? "");
}

function showOnPage(plotId, lights) {
  const lit = lights.keys;
  for (const element of document.querySelectorAll("[data-curve]")) {
    if (plotOf(element) !== plotId) continue;
    element.classList.toggle("is-lit", lit.has(element.dataset.curve));
    element.classList.toggle("is-pinned", lights.pinned.has(element.dataset.curve));
  }
}

let isListening = false;

/** Let rows and other parts of the page light their curve under the pointer or the focus. */
export function listenOnPage() {
  if (isListening) return;
  isListening = true;
  let last = null;
  const enter = (event) => {
    const element = event.target.closest?.("[data-curve]") ?? null;
    if (element === last) return;
    if (last) lightsOf(plotOf(last)).light("");
    if (element) lightsOf(plotOf(element)).light(element.dataset.curve);
    last = element;
  };
  document.addEventListener("pointerover", enter);
  document.addEventListener("focusin", enter);
}
