// Gives a theme-neutral figure the colours of the page, or those of paper, out of tokens.css.
// Each trace says what it is: meta {role: "reference" | "stock" | "band" | "point" | "construction" |
// "grid", ink: "reference" | 0, 1, … | absent, key}. Annotations and shapes that belong to a curve carry
// its key as their name.

export const INKS = 4; // colours; an ink beyond them repeats the hue with another dash
const DASHES = [
  "solid",
  "10px,4px",
  "2px,3px",
  "10px,3px,2px,3px",
  "18px,5px",
  "18px,4px,2px,4px",
  "5px,5px",
  "3px,2px",
];
const REFERENCE_WIDTH = 3.5;
const STOCK_WIDTH = 2;
const BAND_OPACITY = 0.17;
const MOST_NAMES_NARROW = 8;

const TOKENS = {
  ink: "--ink",
  soft: "--ink-soft",
  well: "--well",
  paper: "--paper",
  grid: "--plot-grid",
  axis: "--plot-axis",
  unlit: "--curve-unlit",
  reference: "--curve-reference",
  stock0: "--curve-1",
  stock1: "--curve-2",
  stock2: "--curve-3",
  stock3: "--curve-4",
};

/** Colours as they come out on the page now, or (forPaper) as on paper in any theme. */
export function readPalette(forPaper = false) {
  const probe = document.createElement("span");
  probe.hidden = true;
  if (forPaper) probe.className = "theme-print";
  document.body.append(probe);
  const style = getComputedStyle(probe);
  const palette = { face: style.fontFamily };
  for (const [name, token] of Object.entries(TOKENS)) {
    probe.style.color = `var(${token})`;
    palette[name] = style.color;
  }
  probe.remove();
  return palette;
}

/** Colour of an ink: the reference's, a stock's, or the grey of curves that are not lit. */
export function inkColour(ink, palette) {
  if (ink === "reference") return palette.reference;
  return Number.isInteger(ink) ? palette[`stock${ink % INKS}`] : palette.unlit;
}

const faded = (colour, opacity) => colour.replace(/^rgb\((.*)\)$/, `rgba($1, ${opacity})`);

const PAINTERS = {
  reference(trace, colour) {
    trace.line = { width: REFERENCE_WIDTH, ...trace.line, color: colour };
    trace.marker = { ...trace.marker, color: colour };
  },
  stock(trace, colour) {
    const ink = trace.meta.ink;
    const dash = Number.isInteger(ink) ? DASHES[ink % DASHES.length] : "solid";
    trace.line = { width: Number.isInteger(ink) ? STOCK_WIDTH : 1, dash, ...trace.line, color: colour };
    trace.marker = { ...trace.marker, color: colour };
    if (!Number.isInteger(ink)) trace.hoverinfo = "skip";
  },
  band(trace, colour) {
    trace.line = { ...trace.line, width: 0, color: faded(colour, 0) };
    trace.fillcolor = faded(colour, BAND_OPACITY);
    trace.hoverinfo = "skip";
  },
  point(trace, colour, palette) {
    trace.marker = { size: 7, ...trace.marker, color: colour };
    trace.marker.line = { width: 1, ...trace.marker.line, color: palette.well };
    for (const side of ["error_x", "error_y"]) {
      if (trace[side]) trace[side] = { thickness: 1, width: 3, ...trace[side], color: colour };
    }
  },
  construction(trace, colour, palette) {
    trace.line = { width: 1.25, dash: "3px,3px", ...trace.line, color: palette.soft };
    trace.marker = { ...trace.marker, color: palette.soft };
  },
  grid(trace, colour, palette) {
    trace.line = { width: 1, ...trace.line, color: palette.grid };
    trace.hoverinfo = "skip";
  },
};

function paintTrace(trace, index, palette) {
  const { role, ink } = trace.meta ?? {};
  const colour = inkColour(ink, palette);
  trace.uid = `curve-${index}`;
  PAINTERS[role]?.(trace, colour, palette);
  const isQuiet = role === "construction" || role === "grid";
  trace.textfont = { ...trace.textfont, color: isQuiet ? palette.soft : colour };
}

// Text sizes inside a text would be inline styles, which the content policy forbids; line breaks pass.
const plain = (text) => text?.replace(/<(?!br\s*\/?>)[^>]*>/gi, "");

function paintAxes(layout, palette) {
  const axes = Object.keys(layout).filter((name) => /^[xy]axis\d*$/.test(name));
  for (const name of new Set(["xaxis", "yaxis", ...axes])) {
    const axis = layout[name] ?? {};
    layout[name] = {
      ticks: "outside",
      showline: true,
      zeroline: false,
      automargin: true,
      ...axis,
      title: {
        ...axis.title,
        text: plain(axis.title?.text),
        font: { size: 13, ...axis.title?.font, color: palette.ink },
      },
      gridcolor: palette.grid,
      linecolor: palette.axis,
      tickcolor: palette.axis,
      zerolinecolor: palette.axis,
      tickfont: { ...axis.tickfont, color: palette.soft },
    };
  }
}

function paintMarks(layout, inks, palette) {
  const colourOf = (name) => (inks.has(name) ? inkColour(inks.get(name), palette) : palette.soft);
  for (const note of layout.annotations ?? []) {
    note.text = plain(note.text);
    note.font = { ...note.font, color: colourOf(note.name) };
    note.arrowcolor = colourOf(note.name);
  }
  for (const shape of layout.shapes ?? []) {
    shape.line = { width: 1, ...shape.line, color: colourOf(shape.name) };
    if (shape.fillcolor !== undefined) shape.fillcolor = faded(colourOf(shape.name), BAND_OPACITY);
  }
}

/** Words in the drawing would take half a phone's width: there the curve list and a tap have to do. */
function fitNarrow(data, layout, inks) {
  const notes = layout.annotations ?? [];
  const hasNames = notes.some(({ name }) => inks.has(name));
  for (const note of notes) note.visible = false;
  const named = data.filter(({ meta, mode }) => meta?.role === "point" && mode === "markers+text");
  if (named.length > MOST_NAMES_NARROW) {
    for (const trace of named) if (trace.meta.ink === undefined) trace.mode = "markers";
  }
  const left = (layout.margin?.l ?? 56) - 14;
  layout.margin = { ...layout.margin, l: left, ...(hasNames && { r: 14 }) };
}

/** Whether a trace is a curve among many that has no colour of its own. */
export const isGreyCurve = ({ meta, mode }) =>
  meta?.role === "stock" && !Number.isInteger(meta.ink) && mode === "lines";

/** All grey curves as one trace with gaps, where the first of them was: each trace is slow to draw. */
function joinGreyCurves(data) {
  const grey = data.filter(isGreyCurve);
  if (grey.length < 2) return data;
  const joined = { ...grey[0], meta: { role: "stock" }, uid: "curve-grey", showlegend: false, x: [], y: [] };
  for (const { x, y } of grey) {
    joined.x.push(...x, null);
    joined.y.push(...y, null);
  }
  const kept = data.filter((trace) => trace === grey[0] || !isGreyCurve(trace));
  return kept.map((trace) => (trace === grey[0] ? joined : trace));
}

/** A copy of the figure's data and layout in the given colours; the figure itself stays neutral. */
export function paint(figure, palette, { isNarrow = false } = {}) {
  const data = structuredClone(figure.data ?? []);
  const layout = structuredClone(figure.layout ?? {});
  data.forEach((trace, index) => paintTrace(trace, index, palette));
  const inks = new Map(data.filter((trace) => trace.meta?.key).map(({ meta }) => [meta.key, meta.ink]));
  paintAxes(layout, palette);
  paintMarks(layout, inks, palette);
  if (isNarrow) fitNarrow(data, layout, inks);
  return {
    data: joinGreyCurves(data),
    layout: {
      margin: { l: 56, r: 20, t: 16, b: 52 },
      showlegend: false,
      hovermode: "closest",
      ...layout,
      autosize: true,
      uirevision: "kept",
      paper_bgcolor: palette.well,
      plot_bgcolor: palette.well,
      font: { size: 13, ...layout.font, family: palette.face, color: palette.ink },
      hoverlabel: {
        bgcolor: palette.paper,
        bordercolor: palette.axis,
        namelength: 32,
        font: { color: palette.ink, family: palette.face },
      },
      legend: { ...layout.legend, bgcolor: palette.well, font: { color: palette.ink } },
    },
  };
}
