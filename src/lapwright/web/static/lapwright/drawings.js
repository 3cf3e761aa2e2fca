// Each drawing can be saved: as a drawing, as a picture, and as its numbers where it carries them. Nothing is asked of the
// server; what is saved is what is shown.

const words = document.getElementById("drawing-words").dataset;
const SCALE = 2; // points of the picture for each unit of the drawing

function save(content, type, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([content], { type }));
  link.download = name;
  link.click();
  window.setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

const titleOf = (drawing) => drawing.querySelector(":scope > title")?.textContent ?? drawing.getAttribute("aria-label") ?? "";

function nameOf(drawing) {
  return titleOf(drawing).replace(/[^\p{L}\p{N}.-]+/gu, "-").replace(/^-+|-+$/g, "").slice(0, 80) || "drawing";
}

// Alone on white, whatever the page looks like.
function alone(drawing) {
  const copy = drawing.cloneNode(true);
  copy.removeAttribute("tabindex");
  const [left, top, width, height] = copy.getAttribute("viewBox").split(" ").map(Number);
  const ground = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  for (const [key, value] of Object.entries({ x: left, y: top, width, height, fill: "#ffffff" })) {
    ground.setAttribute(key, value);
  }
  copy.prepend(...copy.querySelectorAll(":scope > title, :scope > desc, :scope > metadata"), ground);
  return { text: new XMLSerializer().serializeToString(copy), width, height };
}

async function picture(drawing) {
  const { text, width, height } = alone(drawing);
  const image = new Image(width * SCALE, height * SCALE);
  image.src = `data:image/svg+xml;charset=utf-8,${encodeURIComponent(text)}`;
  await image.decode();
  const canvas = document.createElement("canvas");
  canvas.width = Math.ceil(width * SCALE);
  canvas.height = Math.ceil(height * SCALE);
  canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
  return new Promise((done) => canvas.toBlob(done, "image/png"));
}

// A spreadsheet reads numbers with the decimal mark of its language, and where that is a comma, cells apart by semicolons.
const comma = (1.5).toLocaleString(document.documentElement.lang).includes(",");
const ahead = "\ufeff"; // tells a spreadsheet that the letters are UTF-8

const NUMBER = /^-?\d+(\.\d+)?(e[-+]?\d+)?$/i;
const CELL = /("(?:[^"]|"")*"|[^,\n]*)(,|\n|$)/g;

function cell(given) {
  if (NUMBER.test(given)) {
    return given.replace(".", ",");
  }
  return given.includes(";") && !given.startsWith('"') ? `"${given}"` : given;
}

function cells(text) {
  return comma ? ahead + text.replace(CELL, (_all, given, end) => cell(given) + (end === "," ? ";" : end)) : text;
}

const WAYS = {
  svg: (drawing) => save(alone(drawing).text, "image/svg+xml", `${nameOf(drawing)}.svg`),
  png: async (drawing) => save(await picture(drawing), "image/png", `${nameOf(drawing)}.png`),
  csv: (drawing) => save(cells(drawing.querySelector("metadata.data").textContent), "text/csv", `${nameOf(drawing)}.csv`),
};

// A drawing that is drawn anew all the time stands in a place of its own, and is taken from there when it is asked for.
const placeOf = (drawing) => drawing.closest("[data-trace]") ?? drawing;

function offer(place) {
  const shown = () => (place.matches("svg") ? place : place.querySelector("svg.drawing"));
  const drawing = shown();
  const box = document.createElement("details");
  box.className = "save";
  const summary = document.createElement("summary");
  summary.textContent = words.save;
  summary.setAttribute("aria-label", words.saveThis.replace("%s", titleOf(drawing)));
  box.append(summary);
  for (const [way, run] of Object.entries(WAYS)) {
    if (way === "csv" && !drawing.querySelector("metadata.data")) {
      continue;
    }
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button small";
    button.textContent = words[way];
    button.addEventListener("click", () => run(shown()));
    box.append(button);
  }
  place.after(box);
}

function offerAll() {
  for (const drawing of document.querySelectorAll("main svg.drawing")) {
    const place = placeOf(drawing);
    if (!place.nextElementSibling?.matches("details.save") && !drawing.closest("a, button, [data-part]:not(:has(metadata.data))")) {
      offer(place);
    }
  }
}

offerAll();
new MutationObserver(offerAll).observe(document.getElementById("main"), { childList: true, subtree: true });
