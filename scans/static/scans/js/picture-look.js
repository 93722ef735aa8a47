// Lets a picture that gives no numbers be looked at nearer; see scans/viewing/_picture_look.html.

import { openPicture } from "./picture.js";

const PAN_PX = 60;
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const KEYS = { "+": "in", "=": "in", "-": "out", "−": "out", 0: "whole" };

/** Mount the viewer on its root, which names the JSON of what to show in data-source. */
export async function mount(root) {
  const source = JSON.parse(document.getElementById(root.dataset.source).textContent);
  let view;
  try {
    view = await openPicture(root.querySelector("[data-look-picture]"), source);
  } catch (fault) {
    root.querySelector("[data-look-status]").textContent = `${fault.message} The small picture stays.`;
    return;
  }
  const does = { in: () => view.zoomIn(), out: () => view.zoomOut(), whole: () => view.showWhole() };
  root.addEventListener("click", (event) => does[event.target.closest("[data-look-do]")?.dataset.lookDo]?.());
  root.querySelector("[data-look-stage]").addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const [x, y] = ARROWS[event.key] ?? [];
    const name = KEYS[event.key];
    if (x === undefined && name === undefined) return;
    if (name) does[name]();
    else view.pan(x * PAN_PX, y * PAN_PX);
    event.preventDefault();
  });
  root.querySelector("[data-look-plain]")?.remove();
  for (const hidden of root.querySelectorAll("[data-look-live]")) hidden.hidden = false;
  root.dataset.drawn = "";
}
