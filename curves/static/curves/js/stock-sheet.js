// A published sheet: printing it, and its figure as a PNG, drawn by the browser from the same SVG.

const PIXELS_ACROSS = 2160; // 12 cm on paper at 450 pixels an inch

export function mount(root) {
  const print = root.querySelector("[data-sheet-print]");
  print.hidden = false;
  print.addEventListener("click", () => window.print());

  const png = root.querySelector("[data-sheet-png]");
  const status = root.querySelector("[data-sheet-status]");
  png.hidden = false;
  png.addEventListener("click", async () => {
    try {
      save(await drawn(png.dataset.sheetPng), png.dataset.filename);
      status.textContent = "The figure is saved as PNG.";
    } catch {
      status.textContent = "The figure could not be drawn; take the SVG.";
    }
  });
}

async function drawn(address) {
  const image = new Image();
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(answer.status);
  const source = URL.createObjectURL(new Blob([await answer.text()], { type: "image/svg+xml" }));
  try {
    image.src = source;
    await image.decode();
    const canvas = document.createElement("canvas");
    canvas.width = PIXELS_ACROSS;
    canvas.height = Math.round((PIXELS_ACROSS * image.naturalHeight) / image.naturalWidth);
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    return await new Promise((resolve, reject) =>
      canvas.toBlob((blob) => (blob ? resolve(blob) : reject(new Error("empty"))), "image/png"),
    );
  } finally {
    URL.revokeObjectURL(source);
  }
}

function save(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}
