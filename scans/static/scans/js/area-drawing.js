// Draws areas, the outline and its handles over a picture, in pixels of the screen.

const SVG = "http://www.w3.org/2000/svg";
const ROOM_FOR_TEXT = [30, 34]; // least width and height of an area that gets its value written in it
const HANDLE_AWAY = 34;
const LETTER_PX = [7, 14]; // about so much room a letter takes
const HANDLE_R = 9;
const TOUCH_R = 22;

function element(name, attributes = {}, parent = null) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  parent?.append(made);
  return made;
}

const middle = (points) => [0, 1].map((axis) => points.reduce((sum, p) => sum + p[axis], 0) / points.length);
const path = (points) => `M${points.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L")}Z`;
const span = (points, axis) =>
  Math.max(...points.map((p) => p[axis])) - Math.min(...points.map((p) => p[axis]));

/** "step 12" is "12" where there is little room. */
const short = (label) => label.replace(/^step /, "");

/** A place beyond the middle of a side, for a handle that acts on the whole; never out of sight. */
function beyond(corners, side, stage) {
  const [mx, my] = middle(corners);
  const [x, y] = middle([corners[side], corners[(side + 1) % 4]]);
  const away = Math.hypot(x - mx, y - my) || 1;
  const inside = (value, length) => Math.min(Math.max(value, TOUCH_R), Math.max(length - TOUCH_R, TOUCH_R));
  return [
    inside(x + ((x - mx) / away) * HANDLE_AWAY, stage.clientWidth),
    inside(y + ((y - my) / away) * HANDLE_AWAY, stage.clientHeight),
  ];
}

/** Whether a label at a place covers none that was written before; then its place is taken. */
function hasRoom([x, y], written, taken) {
  const box = [x, y, LETTER_PX[0] * written.length, LETTER_PX[1]];
  const overlaps = ([u, v, width, height]) =>
    2 * Math.abs(u - x) < width + box[2] && 2 * Math.abs(v - y) < height + box[3];
  if (taken.some(overlaps)) return false;
  taken.push(box);
  return true;
}

export class AreaDrawing {
  constructor(stage, id) {
    this.stage = stage;
    this.svg = element("svg", { class: "areas", "aria-labelledby": `${id}-help` }, stage);
    const hatch = element(
      "pattern",
      { id: `${id}-hatch`, width: 8, height: 8, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
      element("defs", {}, this.svg),
    );
    element("path", { d: "M2 0V8", class: "area-hatch" }, hatch);
    this.hatch = `url(#${id}-hatch)`;
    this.areas = element("g", { "aria-hidden": "true" }, this.svg);
    this.outline = [
      element("path", { class: "area-outline-under" }, this.svg),
      element("path", { class: "area-outline" }, this.svg),
    ];
    this.stem = element("path", { class: "area-outline" }, this.svg);
    this.handles = [0, 1, 2, 3].map((index) => this.handle(`corner-${index}`, String(index + 1)));
    this.move = this.handle("move", "✥");
    this.rotate = this.handle("rotate", "↻");
    this.drawn = [];
  }

  get allHandles() {
    return [...this.handles, this.move, this.rotate];
  }

  handle(name, mark) {
    const group = element(
      "g",
      { class: "area-handle", "data-handle": name, tabindex: 0, role: "button" },
      this.svg,
    );
    element("circle", { r: TOUCH_R, class: "area-handle-touch" }, group);
    element("circle", { r: HANDLE_R, class: "area-handle-dot" }, group);
    element("text", { class: "area-handle-mark", y: "0.35em", "aria-hidden": "true" }, group).textContent =
      mark;
    return group;
  }

  /** Draw areas [{label, text, isFlagged, corners}], all in pixels of the screen. */
  draw(areas, corners) {
    while (this.drawn.length < areas.length) this.drawn.push(this.newArea());
    while (this.drawn.length > areas.length) this.drawn.pop().group.remove();
    const taken = [];
    areas.forEach((area, index) => this.drawArea(this.drawn[index], area, taken));
    for (const outline of this.outline) outline.setAttribute("d", path(corners));
    const [rotate, move] = [beyond(corners, 0, this.stage), beyond(corners, 2, this.stage)];
    const stems = [
      [middle([corners[0], corners[1]]), rotate],
      [middle([corners[2], corners[3]]), move],
    ];
    this.stem.setAttribute("d", stems.map(([from, to]) => `M${from.join(" ")}L${to.join(" ")}`).join(""));
    const places = [...corners, move, rotate];
    this.allHandles.forEach((group, index) => {
      const [x, y] = places[index];
      group.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
    });
  }

  newArea() {
    const group = element("g", { class: "area" }, this.areas);
    return {
      group,
      shapes: ["area-fill", "area-edge-under", "area-edge"].map((name) =>
        element("path", { class: name }, group),
      ),
      label: element("text", { class: "area-label" }, group),
      text: element("text", { class: "area-text" }, group),
    };
  }

  drawArea({ group, shapes, label, text }, area, taken) {
    const isRoomy = span(area.corners, 0) >= ROOM_FOR_TEXT[0] && span(area.corners, 1) >= ROOM_FOR_TEXT[1];
    const [x, y] = middle(area.corners);
    group.classList.toggle("is-flagged", area.isFlagged);
    for (const shape of shapes) shape.setAttribute("d", path(area.corners));
    shapes[0].setAttribute("fill", area.isFlagged ? this.hatch : "none");
    const isWide = span(area.corners, 0) > LETTER_PX[0] * area.label.length;
    label.textContent = isWide ? area.label : short(area.label);
    text.textContent = isRoomy ? area.text : "";
    for (const [written, down] of [
      [label, text.textContent ? -3 : 4],
      [text, 12],
    ]) {
      written.setAttribute("x", x.toFixed(1));
      written.setAttribute("y", (y + down).toFixed(1));
    }
    label.classList.toggle("is-hidden", !hasRoom([x, y], label.textContent, taken));
  }
}
