// One picture of scans side by side: looks at a point of the target, upright, at so many screen pixels for
// a millimetre of film (or a unit of the target), in the tones that the page asks for.

import { openPicture } from "./picture.js";

const SVG = "http://www.w3.org/2000/svg";

function carried(matrix, [x, y]) {
  const [a, b, c] = matrix.map((row) => row[0] * x + row[1] * y + row[2]);
  return [a / c, b / c];
}

/** Inverse of a matrix of three by three. */
function inverse([[a, b, c], [d, e, f], [g, h, i]]) {
  const [A, B, C] = [e * i - f * h, f * g - d * i, d * h - e * g];
  const whole = a * A + b * B + c * C;
  return [
    [A, c * h - b * i, b * f - c * e],
    [B, a * i - c * g, c * d - a * f],
    [C, b * g - a * h, a * e - b * d],
  ].map((row) => row.map((value) => value / whole));
}

/** A filter that makes of each code, as a share, ``factor * share + added``. */
function toneFilter(id) {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("width", 0);
  svg.setAttribute("height", 0);
  svg.setAttribute("aria-hidden", "true");
  const filter = document.createElementNS(SVG, "filter");
  filter.id = id;
  // Codes are linear in density as they are; the browser must not linearise them first.
  filter.setAttribute("color-interpolation-filters", "sRGB");
  const transfer = document.createElementNS(SVG, "feComponentTransfer");
  const channels = ["feFuncR", "feFuncG", "feFuncB"].map((name) => {
    const channel = document.createElementNS(SVG, name);
    channel.setAttribute("type", "linear");
    transfer.append(channel);
    return channel;
  });
  filter.append(transfer);
  svg.append(filter);
  return { svg, channels };
}

export class SidePane {
  constructor(figure, source, index, view) {
    Object.assign(this, { figure, source, view });
    this.window = figure.querySelector("[data-side-window]");
    this.still = figure.querySelector("[data-side-still]");
    this.scaleLine = figure.querySelector("[data-side-scale]");
    this.scaleWords = this.scaleLine.textContent;
    this.toTarget = inverse(source.homography);
    const { svg, channels } = toneFilter(`side-tone-${index}`);
    this.channels = channels;
    figure.append(svg);
    view.viewer.drawer.canvas.style.filter = `url(#side-tone-${index})`;
  }

  static async open(figure, source, index) {
    const element = figure.querySelector("[data-side-view]");
    element.hidden = false;
    return new SidePane(figure, source, index, await openPicture(element, source));
  }

  /** Look at a point of the target; zoom in screen pixels for a unit of the basis. */
  lookAt({ x, y, zoom }) {
    const { homography, degrees, is_mirrored: flipped, px_per_basis: density } = this.source;
    this.view.lookAt(carried(homography, [x, y]), zoom / density, { degrees, flipped });
    const times = zoom / density;
    const words = times >= 1 ? `${times.toFixed(1)} screen pixels each` : `${(1 / times).toFixed(1)} to a screen pixel`;
    this.scaleLine.textContent = `${this.scaleWords}, ${words}`;
  }

  /** What the picture shows now, however it came to it. */
  get seen() {
    const { x: width, y: height } = this.view.viewport.getContainerSize();
    const [x, y] = carried(this.toTarget, this.view.toPicture([width / 2, height / 2]));
    const scale = (this.view.viewport.getZoom(true) * width) / this.source.width;
    return { x, y, zoom: scale * this.source.px_per_basis };
  }

  get width() {
    return this.view.viewport.getContainerSize().x;
  }

  /** Factor and what is added, of codes as a share of the highest. */
  toneOf({ match, tone }) {
    const [factor, added] = this.source.tones[match === "density" ? "match" : "as_scanned"];
    return tone === "positive" ? [factor, added] : [-factor, 1 - added];
  }

  showTone(choice) {
    const [factor, added] = this.toneOf(choice);
    for (const channel of this.channels) {
      channel.setAttribute("slope", factor);
      channel.setAttribute("intercept", added);
    }
    const matched = this.figure.querySelector("[data-side-matched]");
    matched.hidden = choice.match !== "density";
  }

  /** Let the still picture, for print and for who listens, show the same. */
  updateStill({ x, y, zoom }, choice) {
    const { homography, degrees, is_mirrored: isMirrored, px_per_basis: density } = this.source;
    const [px, py] = carried(homography, [x, y]);
    const [factor, added] = this.toneOf(choice);
    const told = new URLSearchParams({
      x: px.toFixed(2),
      y: py.toFixed(2),
      width: Math.max((this.width / zoom) * density, 1).toFixed(2),
      degrees: degrees.toFixed(3),
      mirrored: isMirrored ? 1 : 0,
      factor: factor.toFixed(5),
      added: added.toFixed(5),
    });
    this.still.src = `${this.still.dataset.crop}?${told}`;
  }
}
