// On the page that follows a successful save: <div data-module="clear-draft" data-draft="roll-12"></div>
// lets go of the values that the grid with the same data-draft kept.

import { Draft } from "./grid-draft.js";

export function mount(root) {
  new Draft(root.dataset.draft).drop();
}
