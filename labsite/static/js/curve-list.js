// The curve list is how a plot is read without a mouse; see components/curve_list.html.

import { lightsOf } from "./lights.js";
import { readFigure } from "./plot.js";

const LOG_STEP = 0.1; // a third of a stop
const MANY = 10;

/** Density of a curve at x by straight lines between its samples; null outside what was measured. */
export function valueAt(x, xs, ys) {
  const last = xs.length - 1;
  if (last < 1 || x < Math.min(xs[0], xs[last]) || x > Math.max(xs[0], xs[last])) return null;
  for (let i = 1; i <= last; i += 1) {
    const [a, b] = [xs[i - 1], xs[i]];
    if ((x - a) * (x - b) > 0 || a === b) continue;
    const value = ys[i - 1] + ((ys[i] - ys[i - 1]) * (x - a)) / (b - a);
    return Number.isFinite(value) ? value : null;
  }
  return null;
}

const written = (number, decimals) => number.toFixed(decimals).replace("-", "−");

class Reader {
  constructor(figure, names) {
    this.names = names;
    this.meta = figure.meta ?? {};
    const isCurve = ({ meta, x }) =>
      meta?.key && (meta.role === "reference" || meta.role === "stock") && x?.length > 1;
    this.curves = figure.data.filter(isCurve);
    this.reference = this.curves.find(({ meta }) => meta.role === "reference");
    const all = this.curves.flatMap(({ x }) => [x[0], x[x.length - 1]]);
    [this.low, this.high] = [Math.min(...all), Math.max(...all)];
    const span = this.high - this.low;
    this.step = this.meta.exposure_step ?? (span <= 10 ? LOG_STEP : span / 50);
    const title = figure.layout?.xaxis?.title?.text ?? "exposure";
    this.axis = title.split("<")[0]; // what follows is small print
  }

  /** The next place to read at, on whole steps and inside what is drawn. */
  next(x, steps) {
    const from = x ?? (this.low + this.high) / 2;
    const to = Math.round((from + steps * this.step) / this.step) * this.step;
    return Math.min(Math.max(to, this.low), this.high);
  }

  /** What the lit curves and the reference say at x, in words. */
  say(x, keys) {
    const unit = this.meta.value_unit ?? "D";
    const shown = this.curves.filter((curve) => curve === this.reference || keys.has(curve.meta.key));
    const parts = shown.map((curve) => {
      const value = valueAt(x, curve.x, curve.y);
      const name = this.names.get(curve.meta.key) ?? curve.name ?? curve.meta.key;
      return `${name}: ${value === null ? "not measured here" : `${written(value, 2)} ${unit}`.trim()}`;
    });
    return `${this.axis} ${written(x, 2)}. ${parts.join("; ")}.`;
  }
}

function readerOf(plotId, options) {
  const plot = document.getElementById(plotId);
  const names = new Map(
    options.map((option) => [option.dataset.curve, option.querySelector(".curve-label").textContent]),
  );
  return new Reader(readFigure(plot), names);
}

export function mount(root) {
  const list = root.querySelector("[data-curve-options]");
  const options = [...list.querySelectorAll("[data-curve]")];
  if (!options.length) return;
  const readout = root.querySelector("[data-curve-readout]");
  const help = root.querySelector("[data-curve-help]");
  const lights = lightsOf(root.dataset.plot);
  let reader;
  let current = -1;

  list.setAttribute("role", "listbox");
  list.setAttribute("aria-multiselectable", "true");
  list.tabIndex = 0;
  for (const option of options) {
    option.setAttribute("role", "option");
  }
  showPins();
  lights.addEventListener("change", showPins);

  function go(index) {
    current = Math.min(Math.max(index, 0), options.length - 1);
    const option = options[current];
    list.setAttribute("aria-activedescendant", option.id);
    option.scrollIntoView({ block: "nearest" });
    lights.light(option.dataset.curve);
    if (lights.cursor !== null) read(0);
  }

  const pin = (option) => lights.togglePin(option.dataset.curve);

  // Pins may also come from the page's address.
  function showPins() {
    for (const option of options) {
      option.setAttribute("aria-selected", String(lights.pinned.has(option.dataset.curve)));
    }
  }

  function read(steps) {
    reader ??= readerOf(root.dataset.plot, options);
    if (!reader.curves.length) return;
    const x = reader.next(lights.cursor, steps);
    lights.moveCursor(x);
    readout.textContent = reader.say(x, lights.keys);
  }

  function letGo() {
    lights.clear();
    readout.textContent = "";
  }

  const keys = {
    ArrowDown: () => go(current + 1),
    ArrowUp: () => go(current < 0 ? options.length - 1 : current - 1),
    Home: () => go(0),
    End: () => go(options.length - 1),
    " ": () => current >= 0 && pin(options[current]),
    Enter: () => current >= 0 && pin(options[current]),
    ArrowRight: (event) => read(event.shiftKey ? MANY : 1),
    ArrowLeft: (event) => read(event.shiftKey ? -MANY : -1),
    Escape: letGo,
    "?": () => help.showModal(),
  };

  list.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !keys[event.key]) return;
    event.preventDefault();
    keys[event.key](event);
  });
  list.addEventListener("focus", () => current >= 0 && lights.light(options[current].dataset.curve));
  list.addEventListener("blur", () => lights.light(""));
  list.addEventListener("click", (event) => {
    const option = event.target.closest("[data-curve]");
    if (!option) return;
    go(options.indexOf(option));
    pin(option);
  });
  const button = root.querySelector("[data-curve-keys]");
  button.hidden = false;
  button.addEventListener("click", () => help.showModal());
}
