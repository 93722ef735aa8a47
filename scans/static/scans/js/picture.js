// Shows the tiles of one picture, or its small preview, in an element. The page includes
// scans/viewing/_viewer_assets.html, which loads the viewing library.

const ZOOM_STEP = 1.5;
const CRISP_FROM = 2; // screen pixels for one of the picture, from which its pixels are shown as squares

async function library() {
  // Deferred scripts have run, or failed, by the time that all of the page has loaded.
  if (!window.OpenSeadragon && document.readyState !== "complete") {
    await new Promise((resolve) => window.addEventListener("load", resolve, { once: true }));
  }
  if (!window.OpenSeadragon) throw new Error("The viewer did not load.");
  keepTimeGoingForward(window.OpenSeadragon);
  return window.OpenSeadragon;
}

/** The library divides by how long a move has left, which is nothing where the computer's clock is set back
 * meanwhile: the view would be nowhere from then on. This clock never goes back. */
function keepTimeGoingForward(OpenSeadragon) {
  OpenSeadragon.now = () => performance.timeOrigin + performance.now();
}

/** The library looks for a style element of its own and else writes one, which the content policy blocks. */
function leaveNoStyleToWrite() {
  if (document.querySelector("style[data-openseadragon-mobile-css]")) return;
  const empty = document.createElement("style");
  empty.dataset.openseadragonMobileCss = "";
  document.head.append(empty);
}

function tileSource({ width, height, tiles, preview_url: preview }) {
  if (!tiles) return { type: "image", url: preview };
  const whole = Math.ceil(Math.log2(Math.max(width, height) / tiles.tile_px));
  return {
    width,
    height,
    tileSize: tiles.tile_px,
    maxLevel: tiles.levels - 1,
    minLevel: Math.max(0, tiles.levels - 1 - Math.max(0, whole)), // smaller ones than a single tile are of no use
    getTileUrl: (level, column, row) =>
      tiles.url_template
        .replace("{level}", level)
        .replace("{column}", column)
        .replace("{row}", row),
  };
}

/** One picture in a viewer. Points are [x, y]: of the picture from the centre of its first pixel, in its
 * pixels; of the screen from the element's upper left. */
export class PictureView {
  constructor(OpenSeadragon, element, source) {
    this.source = source;
    this.element = element;
    this.OpenSeadragon = OpenSeadragon;
    this.viewer = OpenSeadragon({
      element,
      tileSources: tileSource(source),
      drawer: "canvas",
      showNavigationControl: false,
      keyboardNavEnabled: false,
      tabIndex: -1,
      animationTime: matchMedia("(prefers-reduced-motion: reduce)").matches ? 0 : 0.25,
      gestureSettingsMouse: { clickToZoom: false, dblClickToZoom: false, flickEnabled: false },
      gestureSettingsTouch: { clickToZoom: false, dblClickToZoom: true, flickEnabled: false },
      gestureSettingsPen: { clickToZoom: false },
      minZoomImageRatio: 0.5,
      maxZoomPixelRatio: 32,
      visibilityRatio: 0.1,
      smoothTileEdgesMinZoom: 0, // a turned picture shows its tiles' edges otherwise
      imageLoaderLimit: 6,
      maxTilesPerFrame: 8,
    });
    this.viewer.addHandler("update-viewport", () => this.keepCrisp());
    // A screen reader is told of the picture by the page; the library's canvases say nothing.
    this.viewer.canvas.setAttribute("aria-hidden", "true");
  }

  get viewport() {
    return this.viewer.viewport;
  }

  /** Screen pixels for one pixel of the picture, as the view will be when it has come to rest. */
  get scale() {
    return (this.viewport.getZoom() * this.viewport.getContainerSize().x) / this.source.width;
  }

  keepCrisp() {
    this.viewer.drawer.setImageSmoothingEnabled(this.scale < CRISP_FROM);
  }

  /** Where a point of the picture is seen; now, or once the view has come to rest. */
  toScreen([x, y], isNow = true) {
    const { width } = this.source;
    const at = new this.OpenSeadragon.Point((x + 0.5) / width, (y + 0.5) / width);
    const seen = this.viewport.pixelFromPoint(at, isNow);
    return [this.unflipped(seen.x), seen.y];
  }

  /** The library mirrors what it drew, and leaves places on the screen as they were before that. */
  unflipped(x) {
    return this.viewport.getFlip() ? this.viewport.getContainerSize().x - x : x;
  }

  /** Which point of the picture is seen at a place of the screen. */
  toPicture([x, y], isNow = true) {
    const at = this.viewport.pointFromPixel(new this.OpenSeadragon.Point(this.unflipped(x), y), isNow);
    return [at.x * this.source.width - 0.5, at.y * this.source.width - 0.5];
  }

  /** Look at a point with so many screen pixels for one of the picture. */
  lookAt([x, y], scale, { degrees = 0, flipped = false, immediately = true } = {}) {
    const { width } = this.source;
    const { viewport } = this;
    if (viewport.getFlip() !== flipped) viewport.setFlip(flipped);
    if (viewport.getRotation() !== degrees) viewport.setRotation(degrees, true);
    viewport.zoomTo((scale * width) / viewport.getContainerSize().x, null, immediately);
    viewport.panTo(new this.OpenSeadragon.Point((x + 0.5) / width, (y + 0.5) / width), immediately);
  }

  zoomIn() {
    this.viewport.zoomBy(ZOOM_STEP);
    this.viewport.applyConstraints();
  }

  zoomOut() {
    this.viewport.zoomBy(1 / ZOOM_STEP);
    this.viewport.applyConstraints();
  }

  showWhole() {
    this.viewport.goHome();
  }

  /** Move what is seen by so many pixels of the screen. */
  pan(x, y) {
    this.viewport.panBy(this.viewport.deltaPointsFromPixels(new this.OpenSeadragon.Point(x, y)));
    this.viewport.applyConstraints();
  }

  onRedraw(what) {
    this.viewer.addHandler("update-viewport", what);
  }
}

/** A picture in an element; resolves when it can be looked at, rejects in words when it can't. */
export async function openPicture(element, source) {
  // An empty address would open as a picture of no size, whose every place is no number.
  if (!source.tiles && !source.preview_url) throw new Error("There is no picture to look at yet.");
  const OpenSeadragon = await library();
  leaveNoStyleToWrite();
  const view = new PictureView(OpenSeadragon, element, source);
  await new Promise((resolve, reject) => {
    view.viewer.addOnceHandler("open", resolve);
    view.viewer.addOnceHandler("open-failed", () => reject(new Error("The picture could not be loaded.")));
  });
  return view;
}
