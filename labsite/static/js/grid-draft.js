// Values typed but not saved, kept in this browser until the server has them.

const PREFIX = "readings:";

export class Draft {
  constructor(key) {
    this.key = key ? PREFIX + key : "";
  }

  /** {savedAt, values} as last kept, or null. */
  load() {
    try {
      return this.key ? JSON.parse(localStorage.getItem(this.key)) : null;
    } catch {
      return null;
    }
  }

  keep(values) {
    this.#quietly(() => localStorage.setItem(this.key, JSON.stringify({ savedAt: Date.now(), values })));
  }

  drop() {
    this.#quietly(() => localStorage.removeItem(this.key));
  }

  /** Storage may be full or forbidden; the grid must go on without it. */
  #quietly(act) {
    if (!this.key) return;
    try {
      act();
    } catch (error) {
      console.warn("grid-draft.js: nothing is kept in this browser:", error.message);
    }
  }
}
