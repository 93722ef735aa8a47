// Mounts what a page asks for. An element says data-module="grid" for a module of this folder, or
// data-module-src="{% static 'curves/js/compare.js' %}" for a page's own; each exports mount(root).
// The imports are spelt out so that collected files can find each other under their hashed names.

const MODULES = {
  "clear-draft": () => import("./clear-draft.js"),
  confirm: () => import("./confirm.js"),
  "copy-link": () => import("./copy-link.js"),
  "curve-list": () => import("./curve-list.js"),
  dirty: () => import("./dirty.js"),
  filters: () => import("./filters.js"),
  focus: () => import("./focus.js"),
  grid: () => import("./grid.js"),
  menu: () => import("./menu.js"),
  plot: () => import("./plot.js"),
  theme: () => import("./theme.js"),
};

const mounted = new WeakSet();

async function mountOne(root) {
  if (mounted.has(root)) return;
  mounted.add(root);
  const { module: name, moduleSrc: source } = root.dataset;
  const load = source ? () => import(source) : MODULES[name];
  if (!load) throw new Error(`page.js: no module is called "${name}".`);
  const { mount } = await load();
  await mount(root);
}

async function mountAll(scope = document) {
  const roots = [...scope.querySelectorAll("[data-module], [data-module-src]")];
  const results = await Promise.allSettled(roots.map(mountOne));
  for (const result of results) {
    if (result.status === "rejected") console.error(result.reason);
  }
}

// Whoever replaces a part of the page says so; importing this file from there would make a circle, for
// which no hashed names can be found.
document.addEventListener("content:replaced", (event) => mountAll(event.target.parentElement));
document.addEventListener("htmx:afterSwap", (event) => mountAll(event.target));
mountAll().then(() => {
  document.documentElement.dataset.ready = "";
});
