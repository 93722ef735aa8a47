// How many pixels an inch this screen has: assumed, typed, or found with a bank card; kept in the browser.

const ASSUMED = 96;
const CARD_INCHES = 85.6 / 25.4; // ISO/IEC 7810, ID-1
const KEY = "screen-pixels-per-inch";

const isSane = (number) => Number.isFinite(number) && number >= 50 && number <= 600;

export class Screen {
  constructor(root, changed) {
    this.told = root.querySelector("[data-side-ppi]");
    this.bar = root.querySelector("[data-side-card]");
    this.slider = root.querySelector("[data-side-card-width]");
    this.typed = root.querySelector("[data-side-screen-ppi]");
    const kept = Number(localStorage.getItem(KEY));
    this.isMeasured = isSane(kept);
    this.ppi = this.isMeasured ? kept : ASSUMED;
    this.show();
    this.slider?.addEventListener("input", () => this.take(Number(this.slider.value) / CARD_INCHES, changed));
    this.typed?.addEventListener("change", () => this.take(Number(this.typed.value), changed));
  }

  take(ppi, changed) {
    if (isSane(ppi)) {
      this.ppi = Math.round(ppi * 10) / 10;
      this.isMeasured = true;
      localStorage.setItem(KEY, this.ppi);
    }
    this.show();
    changed();
  }

  show() {
    if (!this.bar) return;
    this.told.textContent = this.words;
    this.bar.style.width = `${this.ppi * CARD_INCHES}px`;
    this.slider.value = Math.round(this.ppi * CARD_INCHES);
    this.typed.value = this.ppi;
  }

  get words() {
    return `${Math.round(this.ppi)} pixels an inch, ${this.isMeasured ? "as set in this browser" : "assumed"}`;
  }

  /** Screen pixels for a millimetre of film at a print of so many times its size. */
  zoomAt(enlargement) {
    return (enlargement * this.ppi) / 25.4;
  }
}
