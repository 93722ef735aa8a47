// The page of uploads: files are chosen or dropped, stand in line, and each shows what is happening to it.

import { Transfer } from "./upload-transfer.js";

const AT_ONCE = 2;
const BUTTONS = {
  waiting: ["cancel"],
  sending: ["pause", "cancel"],
  away: ["pause", "cancel"],
  paused: ["go", "cancel"],
  failed: ["go", "cancel"],
  checking: ["describe"],
  ready: ["describe"],
  refused: ["describe"],
  cancelled: [],
};

function megabytes(bytes) {
  if (bytes < 1e3) return `${bytes} bytes`;
  if (bytes < 1e5) return `${(bytes / 1e3).toFixed(1)} kB`;
  return `${(bytes / 1e6).toFixed(bytes < 1e7 ? 2 : 1)} MB`;
}

function span(seconds) {
  if (seconds < 60) return `${Math.max(1, Math.round(seconds))} s`;
  return `${Math.floor(seconds / 60)} min ${Math.round(seconds % 60)} s`;
}

/** What is happening, in words. */
function wordsOf(transfer) {
  const { state, sent, file, rate, words, report } = transfer;
  const amount = `${megabytes(sent)} of ${megabytes(file.size)}`;
  const known = report?.is_repeat ? " You had uploaded this very file already; this is its scan." : "";
  const others = (report?.others ?? []).map((scan) => `${scan.code} of ${scan.member.name}`);
  const also = others.length ? ` The same file is also ${others.join(", ")}.` : "";
  switch (state) {
    case "waiting":
      return "Waiting for its turn.";
    case "sending":
      return rate
        ? `Sending: ${amount}, ${megabytes(rate)} a second, ${span((file.size - sent) / rate)} left.`
        : `Sending: ${amount}.`;
    case "away":
      return `${amount} are there. ${words}`;
    case "paused":
      return `Paused: ${amount} are there.`;
    case "failed":
      return `Stopped. ${words}`;
    case "checking":
      return "All is there; the file is being checked.";
    case "refused":
      return `It can't be read. ${words}${known}${also}`;
    case "cancelled":
      return "Cancelled; nothing of it is kept.";
    default: {
      const lead = { measurable: "Ready", view_only: "Ready, for looking only" }[report.stage] ?? "Not checked";
      return `${lead}: ${words}${known}${also}`;
    }
  }
}

/** What is said aloud when a file comes to another state; not its every piece. */
function newsOf(transfer) {
  const short = { sending: "is being sent", paused: "is paused", away: "waits for the line" };
  return `${transfer.file.name} ${short[transfer.state] ?? `: ${wordsOf(transfer)}`}`;
}

class Row {
  constructor(root, file) {
    this.element = root.querySelector("template[data-upload-row]").content.firstElementChild.cloneNode(true);
    this.part = (name) => this.element.querySelector(`[data-${name}]`);
    this.bar = this.element.querySelector("progress");
    this.bar.setAttribute("aria-label", `How much of ${file.name} is sent`);
    this.part("name").textContent = file.name;
    this.part("size").textContent = megabytes(file.size);
    for (const name of ["pause", "go", "cancel"]) {
      const about = document.createElement("span");
      about.className = "visually-hidden";
      about.textContent = ` ${file.name}`;
      this.part(name).append(about);
    }
  }

  show(transfer, describe) {
    this.element.dataset.state = transfer.state;
    this.bar.value = transfer.file.size ? (100 * transfer.sent) / transfer.file.size : 0;
    this.part("words").textContent = wordsOf(transfer);
    const focused = document.activeElement;
    const wanted = BUTTONS[transfer.state];
    for (const name of ["pause", "go", "cancel", "describe"]) {
      this.part(name).hidden = !wanted.includes(name);
    }
    const scan = transfer.report?.scan_id;
    this.part("describe").hidden ||= !scan;
    if (scan) this.part("describe").href = describe(scan);
    if (transfer.state === "refused") this.part("describe").textContent = "See it or discard it";
    // Whoever pressed Pause stands on Go on now, and the other way round.
    if (focused === this.part("pause") && focused.hidden) this.part("go").focus();
    if (focused === this.part("go") && focused.hidden) this.part("pause").focus();
  }
}

export function mount(root) {
  const form = root.querySelector("[data-upload-form]");
  const input = form.querySelector("input[type=file]");
  const drop = root.querySelector("[data-upload-drop]");
  const news = root.querySelector("[data-upload-news]");
  const transfers = [];
  const states = new Map();

  const describe = (scan) => root.dataset.scan.replace("/0/", `/${scan}/`);

  function next() {
    while (transfers.filter((each) => each.isSending).length < AT_ONCE) {
      const first = transfers.find((each) => each.state === "waiting");
      if (!first) return;
      first.run();
    }
  }

  function changed(transfer, row) {
    row.show(transfer, describe);
    if (states.get(transfer) === transfer.state) return;
    states.set(transfer, transfer.state);
    if (transfer.state !== "waiting") news.textContent = newsOf(transfer);
    offerAll();
    next();
  }

  /** Once nothing is under way any more, all are described together. */
  function offerAll() {
    const scans = transfers.filter((each) => each.state === "ready").map((each) => each.report.scan_id);
    const isBusy = transfers.some((each) => !each.isEnded);
    const all = root.querySelector("[data-upload-all]");
    all.hidden = isBusy || new Set(scans).size < 2;
    const query = [...new Set(scans)].map((scan) => `scan=${scan}`).join("&");
    all.querySelector("a").href = `${root.dataset.describe}?${query}`;
  }

  function add(file) {
    if (transfers.some((each) => !each.isEnded && isSame(each.file, file))) return;
    const row = new Row(root, file);
    const transfer = new Transfer(file, {
      start: root.dataset.start,
      csrf: form.elements.csrfmiddlewaretoken.value,
      told: { shows: form.elements.shows.value, roll_id: form.elements.roll_id.value },
      onChange: (each) => {
        changed(each, row);
        hideUnfinished(each);
      },
    });
    transfers.push(transfer);
    row.part("pause").addEventListener("click", () => transfer.pause());
    row.part("go").addEventListener("click", () => transfer.goOn());
    row.part("cancel").addEventListener("click", () => transfer.cancel());
    root.querySelector("[data-upload-list]").append(row.element);
    root.querySelector("[data-upload-panel]").hidden = false;
    changed(transfer, row);
  }

  /** What the page listed as unfinished and goes on now is shown once. */
  function hideUnfinished(transfer) {
    const id = transfer.address.split("/").filter(Boolean).at(-1);
    const listed = id && root.querySelector(`[data-unfinished="${id}"]`);
    if (!listed) return;
    const panel = listed.closest("section");
    listed.remove();
    if (panel && !panel.querySelector("[data-unfinished]")) panel.hidden = true;
  }

  root.querySelector("[data-upload-plain]").hidden = true;
  root.querySelector("[data-upload-hint]").hidden = false;
  form.addEventListener("submit", (event) => event.preventDefault());
  input.addEventListener("change", () => {
    [...input.files].forEach(add);
    input.value = "";
  });
  for (const name of ["dragenter", "dragover"]) {
    drop.addEventListener(name, (event) => {
      event.preventDefault();
      drop.classList.add("drop-over");
    });
  }
  drop.addEventListener("dragleave", () => drop.classList.remove("drop-over"));
  drop.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("drop-over");
    [...event.dataTransfer.files].forEach(add);
  });
  addEventListener("beforeunload", (event) => {
    if (transfers.some((each) => each.isSending)) event.preventDefault();
  });
}

const isSame = (one, other) =>
  one.name === other.name && one.size === other.size && one.lastModified === other.lastModified;
