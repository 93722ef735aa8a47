// Warns before leaving a form whose values were changed but not sent: <form data-module="dirty">.

const snapshot = (form) => JSON.stringify([...new FormData(form)].map(([name, value]) => [name, String(value)]));

/** Guard a form; returns a function that takes the present values as saved. */
export function guard(form) {
  let saved = snapshot(form);
  let isLeaving = false;
  form.addEventListener("submit", (event) => {
    // Another listener may still stop the submit, so look when all have run.
    queueMicrotask(() => {
      isLeaving = !event.defaultPrevented;
    });
  });
  window.addEventListener("pageshow", () => {
    isLeaving = false;
  });
  window.addEventListener("beforeunload", (event) => {
    if (!form.isConnected || isLeaving || snapshot(form) === saved) return;
    event.preventDefault();
  });
  return () => {
    saved = snapshot(form);
  };
}

export function mount(form) {
  guard(form);
}
