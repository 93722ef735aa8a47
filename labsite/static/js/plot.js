// Draws a figure that the server wrote as JSON, in the colours of the theme; see components/plot.html.
// Lighting a curve only toggles classes on what is drawn, so it stays quick with a hundred curves.

import { lightsOf, listenOnPage } from "./lights.js";
import { isGreyCurve, paint, readPalette } from "./plot-theme.js";

const CONFIG = { displayModeBar: false, displaylogo: false, showTips: false, doubleClick: "reset" };
const NARROW_PX = 600;
const AXIS = /^[xy]axis\d*$/;
const SAVED_SIZE = { width: 1200, height: 800 };

function plotly() {
  if (window.Plotly) return Promise.resolve(window.Plotly);
  const script = document.querySelector('script[src*="plotly"]');
  if (!script) return Promise.reject(new Error("plot.js: the page does not include plotly_assets.html."));
  return new Promise((resolve, reject) => {
    script.addEventListener("load", () => resolve(window.Plotly));
    script.addEventListener("error", () => reject(new Error("plot.js: the drawing library did not load.")));
  });
}

/** The figure that a plot shows: data, layout and meta, free of colours. */
export function readFigure(root) {
  return JSON.parse(document.getElementById(root.dataset.figure).textContent);
}

/** Call `redraw` whenever the colours of the page change: theme, system, or printing. */
function followTheme(redraw) {
  new MutationObserver(redraw).observe(document.documentElement, { attributeFilter: ["data-theme"] });
  for (const query of ["(prefers-color-scheme: dark)", "print"]) {
    matchMedia(query).addEventListener("change", redraw);
  }
}

function followLights(root, canvas, figure) {
  const lights = lightsOf(root.id);
  const referenceKey = figure.data.find(({ meta }) => meta?.role === "reference")?.meta.key;
  const cursor = document.createElement("div");
  cursor.className = "plot-cursor";
  cursor.hidden = true;

  // What is drawn of each curve: its traces, and the labels that bear its key as their name.
  let drawn = [];
  function find() {
    const traces = figure.data.map(({ meta = {} }, index) => {
      const element = canvas.querySelector(`.tracecurve-${index}`);
      element?.classList.toggle("is-steady", meta.ink === "reference" || !meta.key);
      return [element, meta.key];
    });
    const notes = (figure.layout.annotations ?? []).map(({ name }, index) => {
      const element = canvas.querySelector(`.annotation[data-index="${index}"]`);
      element?.classList.toggle("is-steady", !name || name === referenceKey);
      return [element, name];
    });
    drawn = [...traces, ...notes].filter(([element]) => element);
  }

  // Grey curves are drawn as one; those that are lit stand once more above them all.
  const grey = new Map(figure.data.filter(isGreyCurve).map((trace) => [trace.meta.key, trace]));
  const svgNames = canvas.querySelector("svg").namespaceURI;
  const over = document.createElementNS(svgNames, "svg");
  over.setAttribute("class", "plot-lit");

  function showGrey(lit) {
    const { xaxis, yaxis } = canvas._fullLayout;
    Object.assign(over.style, { left: `${xaxis._offset}px`, top: `${yaxis._offset}px` });
    over.setAttribute("width", xaxis._length);
    over.setAttribute("height", yaxis._length);
    const paths = [...lit].filter((key) => grey.has(key)).map((key) => {
      const { x, y } = grey.get(key);
      const path = document.createElementNS(svgNames, "path");
      path.setAttribute("d", `M${x.map((value, i) => `${xaxis.d2p(value)} ${yaxis.d2p(y[i])}`).join("L")}`);
      return path;
    });
    over.replaceChildren(...paths);
  }

  function showLights() {
    const lit = lights.keys;
    canvas.classList.toggle("has-lit", lit.size > 0);
    for (const [element, key] of drawn) element.classList.toggle("is-lit", lit.has(key));
    if (grey.size) showGrey(lit);
  }

  function showCursor() {
    const axis = canvas._fullLayout?.xaxis;
    const [low, high] = axis ? [...axis.range].sort((a, b) => a - b) : [0, 0];
    cursor.hidden = !axis || lights.cursor === null || lights.cursor < low || lights.cursor > high;
    if (cursor.hidden) return;
    const { _offset: top, _length: height } = canvas._fullLayout.yaxis;
    cursor.style.transform = `translate(${axis._offset + axis.d2p(lights.cursor)}px, ${top}px)`;
    cursor.style.height = `${height}px`;
  }

  canvas.append(over, cursor);
  lights.addEventListener("change", showLights);
  lights.addEventListener("cursor", showCursor);
  canvas.on("plotly_hover", ({ points }) => lights.light(points[0].data.meta?.key ?? ""));
  canvas.on("plotly_unhover", () => lights.light(""));
  canvas.on("plotly_afterplot", () => {
    canvas.append(over, cursor); // a full redraw empties the canvas
    find();
    showLights();
    showCursor();
  });
  find();
  showLights();
  listenOnPage();
}

async function save(Plotly, root, canvas, figure, initial, format) {
  const { data, layout } = paint(figure, readPalette(true));
  keepRanges(layout, canvas, initial);
  const { savedUnder } = root.dataset;
  const title = `${root.querySelector(".plot-title")?.textContent.trim() ?? ""}${savedUnder ? `<br>${savedUnder}` : ""}`;
  const named = data.filter((trace) => trace.name && trace.showlegend !== false);
  Object.assign(layout, SAVED_SIZE, {
    title: { text: title, font: { size: 18 }, x: 0.01, xanchor: "left" },
    margin: { ...layout.margin, t: savedUnder ? 84 : 60 },
    showlegend: named.length > 1,
  });
  const image = await Plotly.toImage(
    { data, layout },
    { format, ...SAVED_SIZE, scale: format === "png" ? 2 : 1 },
  );
  const link = document.createElement("a");
  link.href = image;
  link.download = `${root.dataset.filename || root.id}.${format}`;
  link.click();
}

const AXES = [
  ["xaxis", "x", "left", "right"],
  ["yaxis", "y", "bottom", "top"],
];
/** Of what is drawn. */
const LONGEST_AXIS = 100;
const NO_NUMBER = "A limit is a number, such as -2.5; leave it empty to fit the data.";

function faultOf(value, isLog) {
  if (value !== null && !Number.isFinite(value)) return NO_NUMBER;
  return isLog && value !== null && value <= 0 ? "This axis has no place for zero or less." : "";
}

/** What is wrong with a pair of limits that are numbers: nothing of the figure could be made out between them. */
function faultOfPair([low, high], drawn, isLog) {
  if (low !== null && high !== null && low >= high) return `This limit must be more than ${low}.`;
  if (!drawn.length) return "";
  const [first, last] = [Math.min, Math.max].map((end) => drawn.reduce((a, b) => end(a, b)));
  if ((low !== null && low >= last) || (high !== null && high <= first)) return "Nothing is drawn between these limits.";
  // A browser that has to put marks at each stop of a far longer axis comes to a stand.
  const isFar = first < last && (high ?? last) - (low ?? first) > LONGEST_AXIS * (last - first);
  return isFar && !isLog ? "What is drawn would be less than a hundredth of the axis." : "";
}

/** Ranges that the typed limits ask for; null where a field says what is wrong with it. */
function limitsOf(form, { data, layout }, initial) {
  const change = {};
  for (const [axis, letter, ...names] of AXES) {
    const fields = names.map((name) => form.elements[name]);
    const typed = fields.map(({ value }) => {
      const text = value.trim().replace(",", ".").replace("−", "-");
      return text === "" ? null : Number(text);
    });
    const isLog = layout[axis]?.type === "log";
    fields.forEach((field, end) => field.setCustomValidity(faultOf(typed[end], isLog)));
    const drawn = data.flatMap((trace) => trace[letter] ?? []).filter(Number.isFinite);
    const fault = fields.every((field) => field.validity.valid) && faultOfPair(typed, drawn, isLog);
    if (fault) fields[typed[1] === null ? 0 : 1].setCustomValidity(fault);
    // On a logarithmic axis the drawing library counts in powers of ten.
    change[`${axis}.range`] = typed.map((end, place) => {
      if (end === null) return initial[`${axis}.range`][place];
      return isLog ? Math.log10(end) : end;
    });
  }
  return form.reportValidity() ? change : null;
}

/** Let a figure keep the ranges that were chosen on the canvas, by limits or by zooming. */
function keepRanges(layout, canvas, initial) {
  for (const name of Object.keys(layout).filter((key) => AXIS.test(key))) {
    const { range, autorange } = canvas.layout[name] ?? {};
    const first = initial[`${name}.range`];
    if (!range || autorange === true || String(range) === String(first)) continue;
    layout[name] = { ...layout[name], range: [...range], autorange: false };
  }
}

/** Both ends of an axis as people read them; null for an end that the figure itself has there. */
function endsOf(canvas, axis, initial) {
  const { range, autorange, type } = canvas.layout[axis];
  if (autorange === true) return [null, null];
  // A thousandth of what is seen is less than a pixel.
  const decimals = Math.min(Math.max(3 - Math.floor(Math.log10(range[1] - range[0])), 0), 9);
  return range.map((end, place) => {
    if (end === initial[`${axis}.range`][place]) return null;
    return type === "log" ? Number((10 ** end).toPrecision(4)) : Number(end.toFixed(decimals));
  });
}

/** The fields of the limits show what the canvas does, typed or zoomed; the page may keep it. */
function followLimits(root, canvas, limits, initial) {
  canvas.on("plotly_relayout", () => {
    for (const [axis, , ...names] of AXES) {
      const ends = endsOf(canvas, axis, initial);
      names.forEach((name, place) => {
        limits.elements[name].value = ends[place] ?? "";
      });
    }
    root.dispatchEvent(new Event("plot:limits"));
  });
}

function wireTools(Plotly, root, canvas, figure, initial) {
  const tools = root.querySelector("[data-plot-tools]");
  const status = root.querySelector("[data-plot-status]");
  if (!tools) return;
  tools.hidden = false;
  tools.addEventListener("click", async (event) => {
    const button = event.target.closest("button");
    if (button?.dataset.plotSave) {
      await save(Plotly, root, canvas, figure, initial, button.dataset.plotSave);
      status.textContent = `Saved as ${button.dataset.plotSave.toUpperCase()}.`;
    } else if (button?.hasAttribute("data-plot-reset")) {
      await Plotly.relayout(canvas, structuredClone(initial));
      status.textContent = "The whole range is shown.";
    }
  });
  const limits = tools.querySelector("[data-plot-limits]");
  if (!limits) return;
  followLimits(root, canvas, limits, initial);
  limits.addEventListener("input", () => {
    for (const field of limits.elements) field.setCustomValidity("");
  });
  limits.addEventListener("submit", async (event) => {
    event.preventDefault();
    const change = limitsOf(limits, figure, initial);
    if (change) await Plotly.relayout(canvas, change);
    const wrong = limits.querySelector("input:invalid");
    status.textContent = change ? "The limits are set." : (wrong?.validationMessage ?? "");
  });
}

/** Limits that came with the page; the whole range is what the figure has without them. */
async function setLimits(Plotly, root, canvas, figure, initial) {
  const limits = root.querySelector("[data-plot-limits]");
  const isSet = limits && AXES.flatMap(([, , ...names]) => names).some((name) => limits.elements[name].value);
  const change = isSet && limitsOf(limits, figure, initial);
  if (change) await Plotly.relayout(canvas, change);
}

/** Ranges as the figure gives them, to go back to; copies, as zooming writes into the layout's own. */
function initialRanges(layout) {
  const ranges = {};
  for (const name of Object.keys(layout).filter((key) => AXIS.test(key))) {
    if (layout[name].range) ranges[`${name}.range`] = [...layout[name].range];
    else ranges[`${name}.autorange`] = true;
  }
  return ranges;
}

export async function mount(root) {
  const figure = readFigure(root);
  const canvas = root.querySelector("[data-plot-canvas]");
  const Plotly = await plotly();
  const isCoarse = matchMedia("(pointer: coarse)").matches;
  let isNarrow;
  const painted = () => {
    isNarrow = canvas.clientWidth < NARROW_PX;
    const { data, layout } = paint(figure, readPalette(), { isNarrow });
    // A finger on the plot scrolls the page; limits can be typed.
    return { data, layout: { ...layout, dragmode: isCoarse ? false : (layout.dragmode ?? "zoom") } };
  };
  const first = painted();
  const sizeNow = () => `${canvas.clientWidth} × ${canvas.clientHeight}`;
  let size = sizeNow();
  canvas.replaceChildren();
  await Plotly.newPlot(canvas, first.data, first.layout, CONFIG);
  const initial = initialRanges(first.layout);
  const redraw = () => {
    const { data, layout } = painted();
    keepRanges(layout, canvas, initial);
    Plotly.react(canvas, data, layout, CONFIG);
  };
  followTheme(redraw);
  followLights(root, canvas, figure);
  wireTools(Plotly, root, canvas, figure, initial);
  await setLimits(Plotly, root, canvas, figure, initial);
  let frame;
  new ResizeObserver(() => {
    cancelAnimationFrame(frame);
    frame = requestAnimationFrame(() => {
      if (sizeNow() === size) return; // as when watching begins, just after the first drawing
      size = sizeNow();
      if (canvas.clientWidth < NARROW_PX !== isNarrow) redraw();
      Plotly.Plots.resize(canvas);
    });
  }).observe(canvas);
  root.dataset.drawn = "";
}
