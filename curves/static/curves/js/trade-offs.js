// A point of the plot ticks its stock in the table, as a click there does; what was ticked is told. Where the
// axes end is kept in the address.

import { keepLimits } from "./kept-address.js";

const DRAWN = "data-drawn";

function toggled(form, key) {
  const row = [...form.querySelectorAll("[data-curve]")].find(({ dataset }) => dataset.curve === key);
  const box = row?.querySelector('input[name="stock"]');
  if (!box) return;
  box.checked = !box.checked;
  const count = form.querySelectorAll('input[name="stock"]:checked').length;
  const name = box.closest("label").textContent.trim();
  form.querySelector("[data-trade-status]").textContent =
    `${name} ${box.checked ? "ticked" : "let go"}; ${count} ticked.`;
}

export function mount(form) {
  const plot = document.getElementById(form.dataset.for);
  if (!plot) return;
  keepLimits(form, plot);
  const listen = () => {
    const canvas = plot.querySelector("[data-plot-canvas]");
    canvas.on("plotly_click", ({ points }) => {
      const { meta } = points[0]?.data ?? {};
      const key = meta?.key ?? meta?.keys?.[points[0].pointIndex];
      if (key) toggled(form, key);
    });
  };
  if (plot.hasAttribute(DRAWN)) {
    listen();
    return;
  }
  const watcher = new MutationObserver(() => {
    watcher.disconnect();
    listen();
  });
  watcher.observe(plot, { attributeFilter: [DRAWN] });
}
