// Draws areas, the outline and its handles over a picture, in pixels of the screen.

const SVG = "http://www.w3.org/2000/svg";
const ROOM_FOR_TEXT = [30, 34]; // least width and height of an area that gets its value written in it
const ROTATE_AWAY = 34;
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

/** Where the handle for turning stands: beyond the middle of the first side. */
function rotatePlace(corners) {
  const [mx, my] = middle(corners);
  const [x, y] = middle([corners[0], corners[1]]);
  const away = Math.hypot(x - mx, y - my) || 1;
  return [x + ((x - mx) / away) * ROTATE_AWAY, y + ((y - my) / away) * ROTATE_AWAY];
}

export class AreaDrawing {
  constructor(stage, id) {
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
    areas.forEach((area, index) => this.drawArea(this.drawn[index], area));
    for (const outline of this.outline) outline.setAttribute("d", path(corners));
    const rotate = rotatePlace(corners);
    const from = middle([corners[0], corners[1]]);
    this.stem.setAttribute("d", `M${from.join(" ")}L${rotate.join(" ")}`);
    const places = [...corners, middle(corners), rotate];
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

  drawArea({ group, shapes, label, text }, area) {
    const isRoomy = span(area.corners, 0) >= ROOM_FOR_TEXT[0] && span(area.corners, 1) >= ROOM_FOR_TEXT[1];
    const [x, y] = middle(area.corners);
    group.classList.toggle("is-flagged", area.isFlagged);
    for (const shape of shapes) shape.setAttribute("d", path(area.corners));
    shapes[0].setAttribute("fill", area.isFlagged ? this.hatch : "none");
    const isWide = span(area.corners, 0) > 6.5 * area.label.length;
    label.textContent = isWide ? area.label : short(area.label);
    text.textContent = isRoomy ? area.text : "";
    for (const [written, down] of [
      [label, text.textContent ? -3 : 4],
      [text, 12],
    ]) {
      written.setAttribute("x", x.toFixed(1));
      written.setAttribute("y", (y + down).toFixed(1));
    }
    label.classList.toggle("is-hidden", span(area.corners, 0) < 9 || span(area.corners, 1) < 9);
  }
}
