// Sets where the areas of a scan lie, by mouse, finger or keyboard; see scans/viewing/_area_editor.html.

import { AreaDrawing } from "./area-drawing.js";
import { AreaShape } from "./area-shape.js";
import { openPicture } from "./picture.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const PAN_PX = 60;
const ROTATE_DEGREES = 0.5;
const SAY_AFTER_MS = 300;
const PLACES = ["first", "second", "third", "fourth"];
const WAY_WORDS = { right: "to the right", left: "to the left", down: "downwards", up: "upwards" };

const AWAITED = "The lab is still looking for what is to be read.";
const NOTHING_FOUND = "Nothing was found on this scan. Set the four corners, then measure.";

const written = (number, decimals = 1) => number.toFixed(decimals).replace("-", "−");
const stepOf = (event) => (event.shiftKey ? 10 : event.altKey ? 0.1 : 1);

class AreaEditor {
  constructor(root, source, view) {
    Object.assign(this, { root, source, view });
    this.stage = root.querySelector("[data-area-stage]");
    this.status = root.querySelector("[data-area-status]");
    this.outline = root.querySelector("[name=outline]");
    this.darkens = root.querySelector("[name=darkens]");
    this.undoButton = root.querySelector("[data-area-do=undo]");
    this.shape = new AreaShape(source);
    this.drawing = new AreaDrawing(this.stage, root.id);
    this.known = new Map(source.areas.map((area) => [area.label, area]));
    this.isChanged = false;
    this.wirePointers();
    root.addEventListener("keydown", (event) => this.onKey(event));
    root.addEventListener("click", (event) => this.onClick(event));
    this.outline.addEventListener("change", () => this.onTyped());
    this.darkens?.addEventListener("change", () => this.onWay());
    view.onRedraw(() => this.draw());
    this.draw();
    if (!this.shape.isStarted) this.say(source.is_awaited ? AWAITED : NOTHING_FOUND);
  }

  // --- What is seen

  /** Until something is changed the areas are those that were measured, wherever they lie. */
  get areas() {
    const areas = this.isChanged ? this.shape.areas : this.source.areas;
    if (!this.isChanged && !this.shape.isStarted) return this.shape.areas;
    return areas;
  }

  draw() {
    const toScreen = (points) => points.map((point) => this.view.toScreen(point));
    const areas = (this.areas ?? []).map((area) => {
      const known = this.isChanged ? null : this.known.get(area.label);
      return {
        label: area.label,
        text: known?.text ?? "",
        isFlagged: Boolean(known?.flags?.length),
        corners: toScreen(area.corners),
      };
    });
    this.drawing.draw(areas, toScreen(this.shape.corners));
    this.drawing.handles.forEach((handle, index) => {
      const [x, y] = this.shape.corners[index];
      handle.setAttribute("aria-label", `${PLACES[index]} corner, x ${written(x)} px, y ${written(y)} px`);
    });
    this.drawing.move.setAttribute("aria-label", "move the whole outline");
    this.drawing.rotate.setAttribute("aria-label", "rotate the outline");
    this.root.classList.toggle("is-crossed", this.areas === null);
  }

  /** Say it once the hand rests. */
  say(text) {
    clearTimeout(this.saying);
    this.saying = setTimeout(() => {
      this.status.textContent = text;
    }, SAY_AFTER_MS);
  }

  sayCorners() {
    const corners = this.shape.corners.map(
      ([x, y], index) => `${index + 1}: x ${written(x)}, y ${written(y)}`,
    );
    const way = this.shape.isTablet ? ` Steps darken ${WAY_WORDS[this.shape.darkens]}.` : "";
    this.say(
      this.areas === null
        ? "The corners cross over; set them around the outline, in order."
        : `Corners in pixels: ${corners.join("; ")}.${way}`,
    );
  }

  // --- What changes

  changed() {
    this.isChanged = true;
    this.outline.value = this.shape.written;
    if (this.darkens) this.darkens.value = this.shape.darkens;
    this.undoButton.disabled = !this.shape.past.length;
    this.outline.dispatchEvent(new Event("input", { bubbles: true }));
    this.draw();
    this.sayCorners();
  }

  /** Do something that can be undone in one step. */
  change(what) {
    this.shape.remember();
    if (what(this.shape) === false) {
      this.shape.past.pop();
      this.say("There is no room to turn: a corner would leave the picture.");
    } else {
      this.changed();
    }
  }

  undo() {
    if (this.shape.undo()) this.changed();
  }

  onTyped() {
    if (this.shape.take(this.outline.value)) this.changed();
    else this.say("Corners are four pairs of numbers, such as [[10, 10], [90, 10], [90, 50], [10, 50]].");
  }

  onWay() {
    const way = this.darkens.value;
    this.change((shape) => {
      shape.darkens = way;
    });
  }

  // --- Hands

  wirePointers() {
    for (const handle of this.drawing.allHandles) {
      handle.addEventListener("pointerdown", (event) => this.grab(event, handle));
    }
  }

  grab(event, handle) {
    if (event.button) return;
    event.preventDefault();
    event.stopPropagation();
    handle.focus();
    handle.setPointerCapture(event.pointerId);
    const start = this.at(event);
    const before = this.shape.snapshot();
    this.shape.remember();
    const move = (moved) => {
      this.shape.restore(structuredClone(before));
      this.drag(handle.dataset.handle, start, this.at(moved));
      this.changed();
    };
    const end = () => {
      handle.removeEventListener("pointermove", move);
      handle.removeEventListener("pointerup", end);
      handle.removeEventListener("pointercancel", end);
    };
    handle.addEventListener("pointermove", move);
    handle.addEventListener("pointerup", end);
    handle.addEventListener("pointercancel", end);
  }

  /** The point of the picture under the pointer. */
  at(event) {
    const box = this.stage.getBoundingClientRect();
    return this.view.toPicture([event.clientX - box.left, event.clientY - box.top]);
  }

  drag(name, from, to) {
    const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    if (name === "move") this.shape.moveBy(dx, dy);
    else if (name === "rotate") {
      const [cx, cy] = this.shape.centre;
      const angle = ([x, y]) => Math.atan2(y - cy, x - cx);
      this.shape.rotateBy(((angle(to) - angle(from)) * 180) / Math.PI);
    } else {
      const index = Number(name.split("-")[1]);
      const [x, y] = this.shape.corners[index];
      this.shape.setCorner(index, [x + dx, y + dy]);
    }
  }

  // --- Keys and buttons

  onKey(event) {
    if (event.target.matches("input, select, textarea")) return;
    const name = event.target.closest?.("[data-handle]")?.dataset.handle;
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z") {
      event.preventDefault();
      this.undo();
      return;
    }
    if (event.ctrlKey || event.metaKey) return;
    const arrow = ARROWS[event.key];
    const isStage = event.target === this.stage;
    if (arrow && (name || isStage)) this.onArrow(event, name, arrow);
    else if (!name && !isStage) return;
    else if (!this.onLetter(event)) return;
    event.preventDefault();
  }

  onArrow(event, name, [x, y]) {
    const step = stepOf(event);
    if (!name) this.view.pan(x * PAN_PX, y * PAN_PX);
    else if (name === "move") this.change((shape) => shape.moveBy(x * step, y * step));
    else if (name === "rotate") this.change((shape) => shape.rotateBy((x || y) * ROTATE_DEGREES * step));
    else {
      const index = Number(name.split("-")[1]);
      this.change((shape) => {
        const [cx, cy] = shape.corners[index];
        shape.setCorner(index, [cx + x * step, cy + y * step]);
      });
    }
  }

  onLetter(event) {
    const step = ROTATE_DEGREES * stepOf(event);
    const keys = {
      "[": () => this.change((shape) => shape.rotateBy(-step)),
      "]": () => this.change((shape) => shape.rotateBy(step)),
      "{": () => this.change((shape) => shape.rotateBy(-step)),
      "}": () => this.change((shape) => shape.rotateBy(step)),
      m: () => this.run("mirror"),
      t: () => this.run("turn"),
      "+": () => this.run("in"),
      "=": () => this.run("in"),
      "-": () => this.run("out"),
      "−": () => this.run("out"),
      0: () => this.run("whole"),
    };
    const does = keys[event.key] ?? keys[event.key.toLowerCase()];
    does?.();
    return Boolean(does);
  }

  onClick(event) {
    const button = event.target.closest("[data-area-do]");
    if (button) this.run(button.dataset.areaDo);
  }

  run(name) {
    const does = {
      in: () => this.view.zoomIn(),
      out: () => this.view.zoomOut(),
      whole: () => this.view.showWhole(),
      mirror: () => this.change((shape) => shape.mirror()),
      turn: () => this.change((shape) => shape.turn()),
      undo: () => this.undo(),
      reset: () => {
        this.shape.startOver();
        this.changed();
      },
    };
    does[name]();
  }
}

/** Mount the editor on its root, which names the JSON of what to show in data-source. */
export async function mount(root) {
  const source = JSON.parse(document.getElementById(root.dataset.source).textContent);
  const picture = root.querySelector("[data-area-picture]");
  let view;
  try {
    view = await openPicture(picture, source);
  } catch (fault) {
    root.querySelector("[data-area-status]").textContent =
      `${fault.message} The corners can still be typed below.`;
    root.querySelector("[data-area-typed]").open = true;
    return;
  }
  root.querySelector("[data-area-plain]")?.remove();
  for (const hidden of root.querySelectorAll("[data-area-live]")) hidden.hidden = false;
  root.areaEditor = new AreaEditor(root, source, view);
  root.dataset.drawn = "";
}
