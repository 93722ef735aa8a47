// Fetches what is said of a stock in words when its row is opened for the first time: fifty such texts
// would be most of the page. Until then, and if fetching fails, the row leads to the stock sheet.

async function fetchWords(details) {
  const part = details.querySelector("[data-part]");
  if (!part || part.hasAttribute("aria-busy")) return;
  part.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(details.dataset.words + location.search, { headers: { Accept: "text/html" } });
    if (!answer.ok) throw new Error(String(answer.status));
    const fetched = new DOMParser().parseFromString(await answer.text(), "text/html");
    part.replaceWith(...fetched.body.childNodes);
  } catch {
    part.removeAttribute("aria-busy"); // opened again, it is asked for again
  }
}

export function mount(table) {
  // "toggle" does not bubble, but is captured on its way.
  table.addEventListener("toggle", ({ target }) => target.open && fetchWords(target), true);
}
