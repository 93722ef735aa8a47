// One file on its way by the tus protocol, 1.0.0: begun or gone on with, sent in pieces, waited for.
// A piece is small enough that one lost on a bad line costs seconds; what is known of where a file goes is
// kept in this browser, so that the same file goes on after a reload.

const PIECE_BYTES = 4 * 1024 * 1024;
const FIRST_WAIT_MS = 1000;
const LONGEST_WAIT_MS = 30_000;
const ASK_MS = 1000;
const PREFIX = "upload:";
const PROTOCOL = { "Tus-Resumable": "1.0.0" };

const base64 = (bytes) => btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(""));
const encoded = (text) => base64(new TextEncoder().encode(text));

/** A refusal in the server's own words; trying again changes nothing. */
class Refused extends Error {}
/** The line or the server is away for a while. */
class Away extends Error {}

export class Transfer {
  /** file; start: address to begin at; csrf; told: {name: text}; onChange: called at every change. */
  constructor(file, { start, csrf, told, onChange }) {
    Object.assign(this, { file, start, csrf, told, onChange });
    this.state = "waiting";
    this.sent = 0;
    this.words = "";
    this.report = null;
    this.address = "";
    this.rate = 0;
    this.stopping = new AbortController();
    this.key = `${PREFIX}${file.name}:${file.size}:${file.lastModified}`;
  }

  /** Whether it takes up the line. */
  get isSending() {
    return this.state === "sending" || this.state === "away";
  }

  get isEnded() {
    return ["ready", "refused", "cancelled"].includes(this.state);
  }

  pause() {
    this.stopping.abort();
    this.#become("paused");
  }

  /** Stand in line again. */
  goOn() {
    this.#become("waiting");
  }

  async cancel() {
    this.stopping.abort();
    this.#forget();
    if (this.address && !this.report?.scan_id) await this.#ask("DELETE", this.address).catch(() => {});
    this.#become("cancelled");
  }

  /** Send until all is there, it is paused or refused; then wait for what the check says. */
  async run() {
    this.stopping = new AbortController();
    const { signal } = this.stopping;
    this.#become("sending");
    for (let wait = FIRST_WAIT_MS; ; ) {
      const before = this.sent;
      try {
        await this.#sendAll(signal);
        return this.#awaitCheck(signal);
      } catch (error) {
        if (signal.aborted) return undefined;
        if (!(error instanceof Away)) return this.#fail(error);
        wait = this.sent > before ? FIRST_WAIT_MS : Math.min(2 * wait, LONGEST_WAIT_MS);
        this.#become("away", error.message);
        await this.#line(wait, signal);
        if (signal.aborted) return undefined;
        this.#become("sending");
      }
    }
  }

  async #sendAll(signal) {
    await this.#findPlace(signal);
    while (this.sent < this.file.size) {
      const began = performance.now();
      const from = this.sent;
      const piece = await this.#piece(from);
      const headers = { "Upload-Offset": String(from), "Content-Type": "application/offset+octet-stream" };
      const answer = await this.#ask("PATCH", this.address, {
        body: piece,
        headers: { ...headers, ...(await checksum(piece)) },
        signal,
        // Bytes changed on their way, or another page sends them: look where it stands and go on.
        again: [409, 423, 460],
      });
      this.sent = Number(answer.headers.get("Upload-Offset"));
      const rate = (this.sent - from) / ((performance.now() - began) / 1000);
      this.rate = this.rate ? 0.7 * this.rate + 0.3 * rate : rate;
      this.onChange(this);
    }
  }

  /** Where the file goes, and how much of it is there already. */
  async #findPlace(signal) {
    this.address ||= recall(this.key);
    if (this.address) {
      const answer = await this.#ask("HEAD", this.address, { signal, or: [404] });
      if (answer.ok) {
        this.sent = Number(answer.headers.get("Upload-Offset"));
        this.onChange(this);
        return;
      }
      this.#forget();
    }
    const told = { ...this.told, filename: this.file.name };
    const metadata = Object.entries(told)
      .filter(([, value]) => value)
      .map(([name, value]) => `${name} ${encoded(value)}`);
    const headers = { "Upload-Length": String(this.file.size), "Upload-Metadata": metadata.join(",") };
    const answer = await this.#ask("POST", this.start, { headers, signal });
    this.address = new URL(answer.headers.get("Location"), location.href).pathname;
    this.sent = 0;
    keep(this.key, this.address);
  }

  async #piece(from) {
    try {
      return await this.file.slice(from, from + PIECE_BYTES).arrayBuffer();
    } catch {
      throw new Refused("The file has changed or gone meanwhile; choose it again.");
    }
  }

  async #awaitCheck(signal) {
    this.#become("checking");
    while (!signal.aborted) {
      const answer = await this.#ask("GET", this.address, { signal }).catch((error) => error);
      if (signal.aborted) return;
      if (answer instanceof Refused) return this.#fail(answer);
      if (answer.ok) {
        this.report = await answer.json();
        if (!["sending", "checking"].includes(this.report.stage) || this.report.words) {
          this.#forget();
          this.#become(this.report.stage === "refused" ? "refused" : "ready", this.report.words);
          return;
        }
      }
      await this.#line(ASK_MS, signal);
    }
  }

  /** Ask the server; an answer other than a good one (or one of `or`) is thrown. */
  async #ask(method, address, { headers = {}, body, signal, or = [], again = [] } = {}) {
    const how = { method, body, signal, headers: { ...PROTOCOL, "X-CSRFToken": this.csrf, ...headers } };
    let answer;
    try {
      answer = await fetch(address, { ...how, credentials: "same-origin", redirect: "error" });
    } catch (error) {
      if (error.name === "AbortError") throw error;
      throw new Away("The line is down; it goes on by itself when it is back.");
    }
    if (answer.ok || or.includes(answer.status)) return answer;
    const told = await answer.json().catch(() => ({}));
    const words = told.message || `The server answered ${answer.status}.`;
    if (again.includes(answer.status)) throw new Away(words);
    if (answer.status === 401) throw new Refused("You are signed out. Sign in on another page, then go on.");
    if (answer.status >= 500 && answer.status !== 507) {
      throw new Away("The server does not answer as it should; it is tried again.");
    }
    throw new Refused(words);
  }

  /** Wait a while; a line that comes back ends the waiting. */
  #line(ms, signal) {
    return new Promise((resolve) => {
      const timer = setTimeout(end, ms);
      function end() {
        clearTimeout(timer);
        removeEventListener("online", end);
        resolve();
      }
      addEventListener("online", end);
      signal.addEventListener("abort", end, { once: true });
    });
  }

  #fail(error) {
    this.#become("failed", error instanceof Refused ? error.message : String(error.message || error));
  }

  #become(state, words = "") {
    this.state = state;
    this.words = words;
    this.onChange(this);
  }

  #forget() {
    keep(this.key, "");
  }
}

/** The piece's checksum, where the browser can compute one (over https, or on this very machine). */
async function checksum(piece) {
  if (!globalThis.crypto?.subtle) return {};
  return { "Upload-Checksum": `sha256 ${base64(new Uint8Array(await crypto.subtle.digest("SHA-256", piece)))}` };
}

// Storage may be full or forbidden; then a file only does not go on after a reload.
function recall(key) {
  try {
    return localStorage.getItem(key) || "";
  } catch {
    return "";
  }
}

function keep(key, address) {
  try {
    if (address) localStorage.setItem(key, address);
    else localStorage.removeItem(key);
  } catch (error) {
    console.warn("upload-transfer.js: nothing is kept in this browser:", error.message);
  }
}
