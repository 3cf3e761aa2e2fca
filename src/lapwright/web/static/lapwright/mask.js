// Draws the outline of the sample over the picture and lets it be dragged; the number fields stay the truth.

const SPACE = "http://www.w3.org/2000/svg";
const figure = document.querySelector(".masker");
const columns = Number(figure.dataset.columns);
const rows = Number(figure.dataset.rows);
const field = (name) => document.getElementById(`id_${name}`);
const kind = field("mask_kind");
const canvas = document.createElementNS(SPACE, "svg");
let corners = [];
let held = null;

function part(name, attributes, className) {
  const made = document.createElementNS(SPACE, name);
  made.setAttribute("class", className);
  for (const [key, value] of Object.entries(attributes)) {
    made.setAttribute(key, value);
  }
  canvas.append(made);
  return made;
}

function grip(x, y, index) {
  const box = canvas.getBoundingClientRect();
  const size = { rx: 9 * columns / (box.width || columns), ry: 9 * rows / (box.height || rows) };
  part("ellipse", { cx: x, cy: y, ...size, "data-grip": index }, "grip");
}

const number = (name) => Number(field(name).value.replace(",", "."));

function circle() {
  return {
    x: number("mask_x") || columns / 2,
    y: number("mask_y") || rows / 2,
    radius: number("mask_radius") || 0.4 * Math.min(columns, rows),
  };
}

function readCorners() {
  corners = field("mask_corners").value.split(/\s+/).map((one) => one.split(",").map(Number))
    .filter((one) => one.length === 2 && one.every(Number.isFinite));
}

function draw() {
  canvas.replaceChildren();
  if (kind.value === "circle") {
    const { x, y, radius } = circle();
    for (const name of ["shape-ground", "shape"]) {
      part("circle", { cx: x, cy: y, r: radius }, name);
    }
    grip(x, y, "middle");
    grip(x + radius, y, "rim");
  } else if (kind.value === "polygon") {
    const points = corners.map((one) => one.join(",")).join(" ");
    for (const name of ["shape-ground", "shape"]) {
      part("polygon", { points }, name);
    }
    corners.forEach(([x, y], index) => grip(x, y, index));
  }
}

function place(event) {
  const box = canvas.getBoundingClientRect();
  const clamp = (value, most) => Math.round(Math.min(Math.max(value, 0), most - 1));
  return [clamp(columns * (event.clientX - box.left) / box.width, columns),
    clamp(rows * (event.clientY - box.top) / box.height, rows)];
}

function write() {
  field("mask_corners").value = corners.map((one) => one.join(",")).join(" ");
}

function writeCircle(x, y, radius) {
  field("mask_x").value = Math.round(x);
  field("mask_y").value = Math.round(y);
  field("mask_radius").value = Math.round(radius);
}

function move(event) {
  if (held === null) {
    return;
  }
  const [x, y] = place(event);
  if (held === "middle") {
    writeCircle(x, y, circle().radius);
  } else if (held === "rim") {
    const now = circle();
    writeCircle(now.x, now.y, Math.max(8, Math.hypot(x - now.x, y - now.y)));
  } else {
    corners[Number(held)] = [x, y];
    write();
  }
  draw();
}

canvas.addEventListener("pointerdown", (event) => {
  held = event.target.dataset.grip ?? null;
  if (held === null && kind.value === "polygon") {
    corners.push(place(event));
    held = String(corners.length - 1);
    write();
  } else if (held === null) {
    kind.value = "circle";
    writeCircle(...place(event), circle().radius);
    held = "middle";
  }
  canvas.setPointerCapture(event.pointerId);
  draw();
});
canvas.addEventListener("pointermove", move);
canvas.addEventListener("pointerup", () => {
  held = null;
});

function lay() {
  const picture = figure.querySelector("svg.drawing");
  const outer = figure.getBoundingClientRect();
  const inner = picture.getBoundingClientRect();
  canvas.style.left = `${inner.left - outer.left - figure.clientLeft}px`;
  canvas.style.top = `${inner.top - outer.top - figure.clientTop}px`;
  canvas.style.width = `${inner.width}px`;
  canvas.style.height = `${inner.height}px`;
  draw();
}

canvas.setAttribute("class", "canvas");
canvas.setAttribute("viewBox", `0 0 ${columns} ${rows}`);
canvas.setAttribute("preserveAspectRatio", "none");
canvas.setAttribute("aria-hidden", "true");
figure.append(canvas);
for (const name of ["mask_kind", "mask_x", "mask_y", "mask_radius", "mask_corners"]) {
  field(name).addEventListener("input", () => {
    readCorners();
    draw();
  });
}
kind.addEventListener("change", () => {
  if (kind.value === "circle") {
    const { x, y, radius } = circle();
    writeCircle(x, y, radius);
  }
  draw();
});
readCorners();
new ResizeObserver(lay).observe(figure);
lay();
