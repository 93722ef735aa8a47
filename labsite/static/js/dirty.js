// Warns before leaving a form whose values were changed but not sent: <form data-module="dirty">.

// Empty fields are left out: one that was only added holds nothing to lose.
const snapshot = (form) =>
  JSON.stringify(
    [...new FormData(form)]
      .map(([name, value]) => [name, value.name ?? value])
      .filter(([, value]) => value !== ""),
  );

/** Guard a form from now on. */
export function guard(form) {
  const saved = snapshot(form);
  let isLeaving = false;
  // On the window, so that whoever stops the submit nearer to the form has done so by now.
  window.addEventListener("submit", (event) => {
    if (event.target === form) isLeaving = !event.defaultPrevented;
  });
  window.addEventListener("pageshow", () => {
    isLeaving = false;
  });
  window.addEventListener("beforeunload", (event) => {
    if (!form.isConnected || isLeaving || snapshot(form) === saved) return;
    event.preventDefault();
  });
}

export function mount(form) {
  guard(form);
}
