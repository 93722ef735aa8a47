// Refreshes a list as its filters change, keeping the focus and the address. Without data-target, or if
// fetching fails, the form is sent as any other.

const TYPING_MS = 400;
const CHOOSING_MS = 60;

function address(form) {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(form)) {
    if (value !== "") query.append(name, value);
  }
  const text = query.toString();
  return form.action.split("?")[0] + (text ? `?${text}` : "");
}

// The form as the page brought it. Controls of it that stand elsewhere in the page are not in the clone; the
// filters have none.
function asBrought(form) {
  const brought = form.cloneNode(true);
  brought.reset();
  return brought;
}

export function mount(form) {
  const target = () => document.getElementById(form.dataset.target || "");
  const apply = form.querySelector("[data-filters-apply]");
  let timer;
  let running;

  async function refresh() {
    running?.abort();
    running = new AbortController();
    const url = address(form);
    target().setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(url, { signal: running.signal, headers: { Accept: "text/html" } });
      if (!answer.ok) throw new Error(String(answer.status));
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = page.getElementById(form.dataset.target);
      if (!fresh) throw new Error("no such part in the answer");
      target().replaceWith(fresh);
      history.replaceState(null, "", url);
      fresh.dispatchEvent(new CustomEvent("content:replaced", { bubbles: true }));
    } catch (error) {
      if (error.name !== "AbortError") location.assign(url);
    }
  }

  if (!target()) return;
  apply?.classList.add("visually-hidden");
  const later = (delay) => {
    clearTimeout(timer);
    timer = setTimeout(refresh, delay);
  };
  form.addEventListener("input", (event) => {
    later(event.target.matches("input:not([type=checkbox], [type=radio])") ? TYPING_MS : CHOOSING_MS);
  });
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    clearTimeout(timer);
    refresh();
  });
  // On a slow line readers type before this is here.
  if (address(form) !== address(asBrought(form))) later(TYPING_MS);
}
