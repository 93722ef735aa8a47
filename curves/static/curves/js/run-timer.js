// Counts the steps of a run, prompts for agitation, and fills the measured times into the page's form.
// All of it lies in the page and in the browser's store: nothing is asked of the server until the end.

const TICK_MS = 200;
const SHAKE_MS = 200;
const WARN_S = 10;

const clock = (seconds) => {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
};

/** Whether to agitate at this second of a step, and how long until that changes; null without a rhythm. */
export function agitationAt(step, second) {
  const { initial_s: initial, every_s: every, for_s: length } = step;
  if (initial && second < initial) return { isOn: true, left: initial - second };
  if (!every) return null;
  // The rhythm counts from the start of the step: at every, 2 × every, … unless the first is still on.
  const into = second % every;
  const begun = second - into;
  if (begun >= Math.max(initial ?? 0, every) && into < length) return { isOn: true, left: length - into };
  return { isOn: false, left: every - into };
}

class Store {
  constructor(key, count) {
    this.key = `run-timer:${key}`;
    this.state = this.#read() ?? { at: 0, measured: Array(count).fill(0), runningSince: null, startedAt: null };
    if (this.state.measured.length !== count) this.clear(count);
  }

  #read() {
    try {
      return JSON.parse(localStorage.getItem(this.key));
    } catch {
      return null; // a browser without a store still times, it only forgets on a reload
    }
  }

  clear(count) {
    this.state = { at: 0, measured: Array(count).fill(0), runningSince: null, startedAt: null };
    this.save();
  }

  save() {
    try {
      localStorage.setItem(this.key, JSON.stringify(this.state));
    } catch {
      // see above
    }
  }

  /** Seconds of a step so far; the clock on the wall counts, so that a sleeping page loses nothing. */
  seconds(index) {
    const { at, measured, runningSince } = this.state;
    const running = index === at && runningSince ? (Date.now() - runningSince) / 1000 : 0;
    return measured[index] + running;
  }
}

export function mount(root) {
  const steps = JSON.parse(document.getElementById(root.dataset.steps).textContent);
  const form = document.getElementById(root.dataset.form);
  const part = (name) => root.querySelector(`[data-timer-${name}]`);
  const store = new Store(root.dataset.key, steps.length);
  let told = "";
  let lock = null;
  let sound = null;

  const isOver = () => store.state.at >= steps.length;
  const isRunning = () => store.state.runningSince !== null;

  function call(times) {
    if (part("shake").checked) navigator.vibrate?.(Array(times * 2 - 1).fill(SHAKE_MS));
    if (!part("beep").checked) return;
    sound ??= new AudioContext();
    const tone = sound.createOscillator();
    tone.connect(sound.destination);
    tone.start();
    tone.stop(sound.currentTime + 0.15 * times);
  }

  async function stayAwake() {
    if (!("wakeLock" in navigator)) {
      part("awake").textContent = "This browser cannot keep the screen on; set the phone so that it stays on.";
      return;
    }
    try {
      lock = await navigator.wakeLock.request("screen");
    } catch {
      part("awake").textContent = "The screen may go dark; the time goes on counting all the same.";
    }
  }

  function bank() {
    const { state } = store;
    if (state.runningSince === null) return;
    state.measured[state.at] = store.seconds(state.at);
    state.runningSince = null;
  }

  function fill() {
    steps.forEach(({ key }, index) => {
      const seconds = Math.round(store.seconds(index));
      if (seconds > 0) form.elements[key].value = clock(seconds);
    });
    if (form.elements.started_at && store.state.startedAt) {
      form.elements.started_at.value = new Date(store.state.startedAt).toISOString();
    }
  }

  function toggle() {
    if (isOver()) return;
    if (isRunning()) {
      bank();
      lock?.release();
    } else {
      store.state.runningSince = Date.now();
      store.state.startedAt ??= Date.now();
      stayAwake();
    }
    store.save();
    show();
  }

  function next() {
    if (isOver()) return;
    const wasRunning = isRunning();
    bank();
    store.state.at += 1;
    if (isOver()) {
      lock?.release();
      fill();
      form.scrollIntoView({ block: "start" });
    } else if (wasRunning) {
      store.state.runningSince = Date.now();
    }
    store.save();
    show();
  }

  function say(words, times) {
    if (words === told) return;
    told = words;
    part("prompt").textContent = words;
    if (times) call(times);
  }

  function prompt(step, seconds) {
    const left = step.planned_s === null ? null : step.planned_s - seconds;
    const agitation = agitationAt(step, seconds);
    root.classList.toggle("is-agitating", Boolean(agitation?.isOn) && (left === null || left > 0));
    if (left !== null && left <= 0) say(`${step.title} is over. Go on to the next step.`, 3);
    else if (left !== null && left <= WARN_S) say(`${step.title} ends soon. Get ready.`, 2);
    else if (agitation?.isOn) say("Agitate now.", 1);
    else if (agitation) say("Let it stand.", 0);
    else say("", 0);
  }

  function show() {
    part("toggle").textContent = isRunning() ? "Pause" : "Start";
    part("toggle").disabled = isOver();
    part("next").disabled = isOver();
    if (isOver()) {
      part("step").textContent = "Done";
      part("detail").textContent = "The times are filled in below; look at them, then save.";
      root.classList.remove("is-agitating");
      say("All steps are done.", 0);
      return;
    }
    const step = steps[store.state.at];
    const seconds = store.seconds(store.state.at);
    part("step").textContent = `${store.state.at + 1} of ${steps.length}: ${step.title}`;
    part("clock").textContent = clock(step.planned_s === null ? seconds : Math.abs(step.planned_s - seconds));
    root.classList.toggle("is-late", step.planned_s !== null && seconds > step.planned_s);
    part("detail").textContent = `${step.detail}${step.planned_s === null ? " (counting up)" : ""}`;
    if (isRunning()) prompt(step, seconds);
    else if (seconds > 0) say("Paused.", 0);
  }

  function safelight() {
    const page = document.documentElement;
    const isOn = page.dataset.theme === "safelight";
    page.dataset.theme = isOn ? (root.dataset.theme ?? "system") : "safelight";
    part("safelight").setAttribute("aria-pressed", String(!isOn));
  }

  function again() {
    lock?.release();
    store.clear(steps.length);
    told = "";
    say("", 0);
    show();
  }

  root.dataset.theme = document.documentElement.dataset.theme;
  part("safelight").setAttribute("aria-pressed", String(root.dataset.theme === "safelight"));
  part("toggle").addEventListener("click", toggle);
  part("next").addEventListener("click", next);
  part("safelight").addEventListener("click", safelight);
  part("reset").addEventListener("click", again);
  form.addEventListener("submit", () => {
    // A refusal brings the form back as it was typed; the timer has done its part either way.
    localStorage.removeItem(store.key);
  });
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.matches("input, textarea, select, button, a")) return;
    if (event.key === " ") toggle();
    else if (event.key === "n" || event.key === "N") next();
    else return;
    event.preventDefault();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible" && isRunning()) stayAwake();
  });
  root.hidden = false;
  if (isOver()) fill();
  show();
  setInterval(show, TICK_MS);
}
