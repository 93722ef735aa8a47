// Scans side by side: one place, one magnification and one choice of tones for all pictures, kept in the
// address; see scans/viewing/side_by_side.html.

import { SidePane } from "./side-pane.js";
import { Screen } from "./side-screen.js";

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const PAN_PX = 60;
const ZOOM_STEP = 1.5;
const LIMITS = [0.05, 2000]; // screen pixels for a millimetre of film, or a unit of the target
const REST_MS = 500;

class SideBySide {
  constructor(root, source, form, panes) {
    Object.assign(this, { root, source, form, panes });
    this.status = root.querySelector("[data-side-status]");
    this.screen = new Screen(root, () => this.onScreen());
    this.region = this.field("region").value;
    this.place = { ...source.place };
    if (this.printScale) this.place.zoom = this.screen.zoomAt(this.printScale);
    else if (!source.has_place) this.place.zoom = this.fittingZoom();
    panes.forEach((pane) => this.follow(pane));
    this.showTones();
    this.show();
    this.wire();
  }

  field(name) {
    return this.form.elements[name];
  }

  get printScale() {
    return this.source.basis === "film" ? Number(this.field("print_scale").value) : 0;
  }

  get choice() {
    return { match: this.field("match").value, tone: this.field("tone").value };
  }

  // --- Where to look

  get regionBox() {
    const [w, h] = this.source.sheet;
    return this.source.regions.find(({ label }) => label === this.region) ?? { x: 0, y: 0, w, h };
  }

  /** The magnification at which the region fits every pane. */
  fittingZoom() {
    const { w, h } = this.regionBox;
    const fits = this.panes.map((pane) => {
      const { x: width, y: height } = pane.view.viewport.getContainerSize();
      const unit = this.unitOf(pane);
      return Math.min(width / (w * unit), height / (h * unit)) / this.source.margin;
    });
    return Math.min(...fits);
  }

  /** Of the basis, in a unit of the target, at the middle of it. */
  unitOf(pane) {
    const [w, h] = this.source.sheet;
    const m = pane.source.homography;
    const at = ([x, y]) => {
      const [a, b, c] = m.map((row) => row[0] * x + row[1] * y + row[2]);
      return [a / c, b / c];
    };
    const [left, right] = [at([w / 2 - 1, h / 2]), at([w / 2 + 1, h / 2])];
    const pixels = Math.hypot(right[0] - left[0], right[1] - left[1]) / 2;
    return pixels / pane.source.px_per_basis;
  }

  go(place) {
    const zoom = Math.min(Math.max(place.zoom, LIMITS[0]), LIMITS[1]);
    const [w, h] = this.source.sheet;
    const within = (value, side) => Math.min(Math.max(value, -side / 4), side * 1.25);
    this.place = { x: within(place.x, w), y: within(place.y, h), zoom };
    this.show();
  }

  home() {
    const { x, y, w, h } = this.regionBox;
    this.setPrintScale("");
    this.go({ x: x + w / 2, y: y + h / 2, zoom: this.fittingZoom() });
  }

  zoomBy(times) {
    this.setPrintScale("");
    this.go({ ...this.place, zoom: this.place.zoom * times });
  }

  panBy(dx, dy) {
    const [pane] = this.panes;
    const step = this.place.zoom * this.unitOf(pane);
    this.go({ ...this.place, x: this.place.x + dx / step, y: this.place.y + dy / step });
  }

  setPrintScale(value) {
    this.field("print_scale").value = value;
  }

  goToRegion(name) {
    this.region = name;
    this.field("region").value = name;
    const { x, y, w, h } = this.regionBox;
    const middle = { x: x + w / 2, y: y + h / 2 };
    if (this.printScale) this.go({ ...middle, zoom: this.screen.zoomAt(this.printScale) });
    else this.home();
  }

  // --- What is shown

  show(except = null) {
    for (const pane of this.panes) if (pane !== except) pane.lookAt(this.place);
    for (const button of this.root.querySelectorAll("[data-side-region]")) {
      button.setAttribute("aria-pressed", String(button.dataset.sideRegion === this.region));
    }
    clearTimeout(this.resting);
    this.resting = setTimeout(() => this.rest(), REST_MS);
  }

  showTones() {
    for (const pane of this.panes) pane.showTone(this.choice);
  }

  /** Once all is still: the address, the stills and the words follow. */
  rest() {
    const query = new URLSearchParams();
    for (const pane of this.panes) query.append("scan", pane.source.scan);
    const told = {
      region: this.region,
      ...this.choice,
      x: this.place.x.toFixed(2),
      y: this.place.y.toFixed(2),
      ...(this.printScale ? { print_scale: this.printScale } : { zoom: this.place.zoom.toPrecision(5) }),
    };
    for (const [name, value] of Object.entries(told)) if (value !== "") query.set(name, value);
    // The comparison that one came from goes along, so that its tabs lead back to the same stocks.
    for (const { name, value } of document.querySelectorAll("#side-form input[type=hidden]")) query.append(name, value);
    history.replaceState(history.state, "", `?${query}`);
    const link = document.querySelector("[data-side-link]");
    if (link) link.dataset.url = location.href;
    for (const pane of this.panes) pane.updateStill(this.place, this.choice);
    this.status.textContent = this.words;
  }

  get words() {
    const where = this.region ? `${this.region[0].toUpperCase()}${this.region.slice(1)}` : "Whole target";
    const { zoom } = this.place;
    if (this.source.basis !== "film") return `${where}. All at one size of the target.`;
    const times = (zoom * 25.4) / this.screen.ppi;
    const size = `as in a print ${times.toFixed(times < 10 ? 1 : 0)} times the film’s size`;
    const screen = this.screen.isMeasured ? "" : `, if the screen has ${Math.round(this.screen.ppi)} pixels an inch`;
    return `${where}. All ${size}${screen}.`;
  }

  // --- Hands and keys

  /** When a hand moves one picture the others follow; it is the one that has the hand. */
  follow(pane) {
    const { viewer } = pane.view;
    const take = () => {
      this.leading = pane;
    };
    for (const event of ["canvas-press", "canvas-scroll", "canvas-pinch", "canvas-double-click"]) {
      viewer.addHandler(event, take);
    }
    viewer.addHandler("update-viewport", () => {
      if (this.leading !== pane) return;
      const seen = pane.seen;
      const isSame = ["x", "y", "zoom"].every(
        (name) => Math.abs(seen[name] - this.place[name]) < 1e-4 * Math.max(1, Math.abs(this.place[name])),
      );
      if (isSame) return;
      if (Math.abs(seen.zoom / this.place.zoom - 1) > 1e-3) this.setPrintScale("");
      this.place = seen;
      this.show(pane);
    });
    pane.window.tabIndex = 0;
    pane.window.addEventListener("keydown", (event) => this.onKey(event));
  }

  onKey(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const region = this.source.regions[Number(event.key) - 1];
    const arrow = ARROWS[event.key];
    const keys = {
      "+": () => this.zoomBy(ZOOM_STEP),
      "=": () => this.zoomBy(ZOOM_STEP),
      "-": () => this.zoomBy(1 / ZOOM_STEP),
      "−": () => this.zoomBy(1 / ZOOM_STEP),
      0: () => this.home(),
    };
    this.leading = null;
    if (arrow) this.panBy(arrow[0] * PAN_PX, arrow[1] * PAN_PX);
    else if (keys[event.key]) keys[event.key]();
    else if (region) this.goToRegion(region.label);
    else return;
    event.preventDefault();
  }

  onScreen() {
    if (!this.printScale) return;
    this.leading = null;
    this.go({ ...this.place, zoom: this.screen.zoomAt(this.printScale) });
  }

  wire() {
    this.root.addEventListener("click", (event) => {
      const button = event.target.closest("[data-side-do], [data-side-region]");
      if (!button) return;
      this.leading = null;
      const { sideDo, sideRegion } = button.dataset;
      const does = { in: () => this.zoomBy(ZOOM_STEP), out: () => this.zoomBy(1 / ZOOM_STEP), home: () => this.home() };
      if (sideRegion) this.goToRegion(sideRegion);
      else does[sideDo]();
    });
    this.form.addEventListener("change", (event) => this.onChoice(event.target.name));
    let width = innerWidth;
    addEventListener("resize", () => {
      if (innerWidth !== width) requestAnimationFrame(() => this.show());
      width = innerWidth;
    });
  }

  onChoice(name) {
    this.leading = null;
    if (name === "region") this.goToRegion(this.field("region").value);
    else if (name === "print_scale") {
      if (this.printScale) this.go({ ...this.place, zoom: this.screen.zoomAt(this.printScale) });
      else this.show();
    } else if (name === "match" || name === "tone") {
      this.showTones();
      this.show();
    }
  }
}

/** Mount the page's pictures; where the viewer does not load, the stills stay. */
export async function mount(root) {
  const source = JSON.parse(document.getElementById(root.dataset.source).textContent);
  const figures = [...root.querySelectorAll("[data-side-pane]")];
  const form = document.getElementById("side-form");
  let panes;
  try {
    panes = await Promise.all(figures.map((figure, index) => SidePane.open(figure, source.panes[index], index)));
  } catch (fault) {
    for (const view of root.querySelectorAll("[data-side-view]")) view.hidden = true;
    root.querySelector("[data-side-status]").textContent = `${fault.message} Still pictures are shown.`;
    return;
  }
  for (const live of root.querySelectorAll("[data-side-live]")) live.hidden = false;
  root.classList.add("is-live");
  root.sideBySide = new SideBySide(root, source, form, panes);
  root.dataset.drawn = "";
}
