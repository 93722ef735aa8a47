// Switches the theme at once and tells the server, which keeps it in a cookie. If telling fails, the
// plain form is sent instead, so that the choice is never lost silently.

export function mount(form) {
  form.addEventListener("submit", async (event) => {
    const button = event.submitter;
    if (!button || button.name !== "theme") return;
    event.preventDefault();
    document.documentElement.dataset.theme = button.value;
    for (const other of form.querySelectorAll("button[name=theme]")) {
      other.setAttribute("aria-pressed", String(other === button));
    }
    const body = new FormData(form);
    body.set("theme", button.value);
    try {
      const answer = await fetch(form.action, { method: "POST", body, redirect: "manual" });
      if (answer.type !== "opaqueredirect" && !answer.ok) throw new Error(String(answer.status));
    } catch {
      const value = document.createElement("input");
      value.type = "hidden";
      value.name = "theme";
      value.value = button.value;
      form.append(value);
      form.submit();
    }
  });
}
