// The outline that a member edits: its four corners, which way steps darken, and what was undone.

import { WAYS_ROUND, isQuadrilateral, placePatches, placeSteps } from "./perspective.js";

const FREE_SHARE = 0.6; // of the picture, for an outline to begin with where nothing was found
const MOST_REMEMBERED = 200;
const USUAL_STEPS = 21; // of a tablet that nobody named

const turned = ([x, y], [cx, cy], radians) => {
  const [c, s] = [Math.cos(radians), Math.sin(radians)];
  return [cx + c * (x - cx) - s * (y - cy), cy + s * (x - cx) + c * (y - cy)];
};

/** A list with its first so many entries at its end. */
const rolled = (list, by) => list.map((_, i) => list[(i + by) % list.length]);

export class AreaShape {
  constructor(source) {
    this.source = source;
    this.isStarted = source.outline?.length === 4;
    this.corners = this.isStarted ? source.outline.map(([x, y]) => [x, y]) : this.free();
    this.darkens = source.darkens || "right";
    this.first = this.snapshot();
    this.past = [];
  }

  /** An upright outline in the middle of the picture. */
  free() {
    const { width, height } = this.source;
    const inset = (1 - FREE_SHARE) / 2;
    const [left, top] = [width * inset, height * inset];
    const [right, bottom] = [width - left, height - top];
    return [
      [left, top],
      [right, top],
      [right, bottom],
      [left, bottom],
    ];
  }

  get isTablet() {
    return this.source.layout.startsWith("steps");
  }

  get isQuadrilateral() {
    return isQuadrilateral(this.corners);
  }

  get centre() {
    return [0, 1].map((axis) => this.corners.reduce((sum, corner) => sum + corner[axis], 0) / 4);
  }

  /** What would be read: [{label, corners}]; null where the corners cross over. */
  get areas() {
    if (!this.isQuadrilateral) return null;
    const { layout, steps, sheet, patches } = this.source;
    if (this.isTablet) return placeSteps(this.corners, steps ?? USUAL_STEPS, this.darkens);
    if (layout === "target") return placePatches(this.corners, sheet, patches);
    return [{ label: "area", corners: this.corners }];
  }

  snapshot() {
    return { corners: this.corners.map(([x, y]) => [x, y]), darkens: this.darkens };
  }

  /** Remember how it is, before a change that can be undone. */
  remember() {
    this.past.push(this.snapshot());
    if (this.past.length > MOST_REMEMBERED) this.past.shift();
  }

  restore({ corners, darkens }) {
    this.corners = corners;
    this.darkens = darkens;
  }

  undo() {
    const before = this.past.pop();
    if (before) this.restore(before);
    return Boolean(before);
  }

  startOver() {
    this.remember();
    const { corners, darkens } = this.first;
    this.restore({ corners: corners.map(([x, y]) => [x, y]), darkens });
  }

  /** Corners stay where the picture has pixels. */
  set(corners) {
    const { width, height } = this.source;
    const inside = (value, side) => Math.min(Math.max(value, -0.5), side - 0.5);
    this.corners = corners.map(([x, y]) => [inside(x, width), inside(y, height)]);
  }

  setCorner(index, point) {
    this.set(this.corners.map((corner, i) => (i === index ? point : corner)));
  }

  /** Move it all, as far as it fits. */
  moveBy(dx, dy) {
    const { width, height } = this.source;
    const fitting = (by, axis, side) => {
      const all = this.corners.map((corner) => corner[axis]);
      return Math.min(Math.max(by, -0.5 - Math.min(...all)), side - 0.5 - Math.max(...all));
    };
    const [x, y] = [fitting(dx, 0, width), fitting(dy, 1, height)];
    this.set(this.corners.map((corner) => [corner[0] + x, corner[1] + y]));
  }

  /** Turn it about its middle; not at all where a corner would leave the picture. */
  rotateBy(degrees) {
    const corners = this.corners.map((corner) => turned(corner, this.centre, (degrees * Math.PI) / 180));
    const { width, height } = this.source;
    const fits = corners.every(([x, y]) => x >= -0.5 && y >= -0.5 && x <= width - 0.5 && y <= height - 0.5);
    if (fits) this.corners = corners;
    return fits;
  }

  /** Read it left for right. Of a tablet that is the other way of darkening. */
  mirror() {
    if (this.isTablet) this.darkens = WAYS_ROUND[(WAYS_ROUND.indexOf(this.darkens) + 2) % 4];
    else this.corners = [1, 0, 3, 2].map((i) => this.corners[i]);
  }

  /** Read it a quarter further round. */
  turn() {
    if (this.isTablet) this.darkens = WAYS_ROUND[(WAYS_ROUND.indexOf(this.darkens) + 1) % 4];
    else this.corners = rolled(this.corners, 1);
  }

  /** The corners as the server takes them, to a hundredth of a pixel. */
  get written() {
    return JSON.stringify(this.corners.map((corner) => corner.map((value) => Math.round(value * 100) / 100)));
  }

  /** Take corners that were typed; false when they are no four pairs of numbers. */
  take(text) {
    let typed;
    try {
      typed = JSON.parse(text);
    } catch {
      return false;
    }
    const isPair = (pair) => Array.isArray(pair) && pair.length === 2 && pair.every(Number.isFinite);
    if (!Array.isArray(typed) || typed.length !== 4 || !typed.every(isPair)) return false;
    this.remember();
    this.set(typed);
    return true;
  }
}
