// Steps a cursor from run to run on the control charts and says what each one is: how they are read
// without a mouse. All charts of the page move together.

import { lightsOf } from "../../js/lights.js";
import { readFigure } from "../../js/plot.js";

const SHIFT_STEP = 10;
const PAGE_STEP = 50;
const FEWEST_SHOWN = 20;

/** Places, from 1, of the runs that break a rule on any of the charts. */
function brokenPlaces(plots) {
  const places = plots.flatMap((plot) =>
    readFigure(plot)
      .data.filter(({ name }) => name === "breaks a rule")
      .flatMap(({ x }) => x),
  );
  return new Set(places);
}

export function mount(root) {
  const slider = root.querySelector("[data-chart-slider]");
  const readout = root.querySelector("[data-chart-readout]");
  const told = JSON.parse(document.getElementById(root.dataset.points).textContent);
  const plots = root.dataset.plots.split(" ").map((id) => document.getElementById(id));
  const broken = brokenPlaces(plots);
  const last = told.length;
  let place = last; // from 1

  const canvases = () =>
    plots.map((plot) => plot.querySelector("[data-plot-canvas]")).filter((canvas) => canvas._fullLayout);

  function show(low, high) {
    for (const canvas of canvases()) window.Plotly.relayout(canvas, { "xaxis.range": [low, high] });
  }

  /** Bring the cursor into view without changing how many runs are shown. */
  function follow() {
    const [first] = canvases();
    if (!first) return;
    const [low, high] = first._fullLayout.xaxis.range;
    if (place >= low && place <= high) return;
    const half = (high - low) / 2;
    show(place - half, place + half);
  }

  function tell() {
    const words = `${told[place - 1]}${broken.has(place) ? "; breaks a rule" : ""}`;
    slider.setAttribute("aria-valuenow", String(place));
    slider.setAttribute("aria-valuetext", `${place} of ${last}: ${words}`);
    readout.textContent = `${place} of ${last}: ${words}`;
  }

  function go(to) {
    place = Math.min(Math.max(to, 1), last);
    tell();
    follow();
    for (const plot of plots) lightsOf(plot.id).moveCursor(place);
  }

  function nextBroken() {
    const after = [...broken].sort((a, b) => a - b);
    const found = after.find((each) => each > place) ?? after[0];
    if (found !== undefined) go(found);
  }

  const keys = {
    ArrowRight: (event) => go(place + (event.shiftKey ? SHIFT_STEP : 1)),
    ArrowLeft: (event) => go(place - (event.shiftKey ? SHIFT_STEP : 1)),
    PageUp: () => go(place + PAGE_STEP),
    PageDown: () => go(place - PAGE_STEP),
    Home: () => go(1),
    End: () => go(last),
    s: nextBroken,
    S: nextBroken,
  };

  slider.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !keys[event.key]) return;
    event.preventDefault();
    keys[event.key](event);
  });
  root.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    if (button.dataset.chartStep) go(place + Number(button.dataset.chartStep));
    if (button.dataset.chartWindow === undefined) return;
    const count = Number(button.dataset.chartWindow) || last;
    const shown = Math.max(Math.min(count, last), Math.min(FEWEST_SHOWN, last));
    show(last - shown + 0.5, last + 0.5 + 0.02 * shown);
  });
  slider.setAttribute("aria-valuemin", "1");
  slider.setAttribute("aria-valuemax", String(last));
  tell();
  root.hidden = false;
}
