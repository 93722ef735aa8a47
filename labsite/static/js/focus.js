// Brings the summary of errors into view and under the cursor of a screen reader after a failed form.

export function mount(root) {
  root.focus();
}
