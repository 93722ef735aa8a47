// Shows what is said of a stock in words in a row of its own, the width of the table, while its row is
// opened. Fifty such texts would be most of the page, so each is fetched when it is first asked for; until
// then, and if fetching fails, the row leads to the stock sheet, which says the same.

async function fetched(address) {
  const answer = await fetch(address, { headers: { Accept: "text/html" } });
  if (!answer.ok) throw new Error(String(answer.status));
  return new DOMParser().parseFromString(await answer.text(), "text/html").body.childNodes;
}

function wordsRow(row, nodes) {
  const words = document.createElement("tr");
  words.className = "compare-said";
  words.dataset.curve = row.dataset.curve;
  const cell = words.insertCell();
  cell.colSpan = row.cells.length;
  const text = document.createElement("div");
  text.append(...nodes);
  cell.append(text);
  row.after(words);
  return words;
}

async function show(details) {
  const row = details.closest("tr");
  const hint = details.querySelector("[data-part]");
  if (details.hasAttribute("aria-busy")) return;
  details.setAttribute("aria-busy", "true");
  try {
    const nodes = await fetched(details.dataset.words + location.search);
    wordsRow(row, nodes).hidden = !details.open;
    hint.remove();
  } finally {
    details.removeAttribute("aria-busy");
  }
}

export function mount(table) {
  // "toggle" does not bubble, but is captured on its way.
  table.addEventListener(
    "toggle",
    ({ target }) => {
      const next = target.closest("tr").nextElementSibling;
      if (next?.classList.contains("compare-said")) next.hidden = !target.open;
      // Where that fails the way to the sheet still stands, and the next opening asks again.
      else if (target.open) show(target).catch(() => {});
    },
    true,
  );
  // On a slow line rows are opened before this is here.
  for (const details of table.querySelectorAll("details[data-words][open]")) show(details).catch(() => {});
}
