// Moving a load on the Board: by pointer or by arrow keys. Letting go, or Enter, asks the server what would change;
// nothing is moved here. Without this script a load is a link to the form that asks the same.

const board = document.querySelector("[data-board]");
const says = document.getElementById("ghost");
const STEP = 900; // s that an arrow key shifts
const GRAIN = 300; // s to which a drag is rounded
const NEAR = 6; // px that a press may tremble
let held = null;

function rowsOf(svg) {
  return [...svg.querySelectorAll("[data-row]")];
}

function begin(link) {
  const svg = link.ownerSVGElement;
  const row = link.closest("[data-row]");
  held = { link, svg, row, start: Number(link.dataset.start), first: Number(link.dataset.start), moved: false };
}

function clock(seconds) {
  return new Date(seconds * 1000).toLocaleString(document.documentElement.lang, { weekday: "short", hour: "2-digit", minute: "2-digit", timeZone: board.dataset.zone || undefined });
}

function tell() {
  says.textContent = `${held.link.dataset.task}: ${held.row.dataset.row}, ${clock(held.start)}`;
  const long = Number(held.svg.dataset.long) / (Number(held.svg.dataset.end) - Number(held.svg.dataset.start));
  const from = held.link.closest("[data-row]").getBBox().y;
  const to = held.row.getBBox().y;
  held.link.setAttribute("transform", `translate(${(held.start - held.first) * long} ${to - from})`);
  held.link.classList.add("moving");
}

function drop() {
  if (held) {
    held.link.removeAttribute("transform");
    held.link.classList.remove("moving");
  }
  held = null;
}

function ask() {
  const at = new Date(held.start * 1000);
  const parts = new Intl.DateTimeFormat("sv-SE", { timeZone: board.dataset.zone || undefined, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit" }).format(at);
  const wanted = new URLSearchParams({ fix: held.link.dataset.task, fix_place: held.row.dataset.row, fix_start: parts.replace(" ", "T") });
  window.location.assign(`${board.dataset.address}?${wanted}`);
}

function keyed(event) {
  const link = event.target.closest?.(".load-link");
  if (!link) {
    return;
  }
  const shift = { ArrowLeft: -STEP, ArrowRight: STEP }[event.key];
  const step = { ArrowUp: -1, ArrowDown: 1 }[event.key];
  if (shift === undefined && step === undefined) {
    if (event.key === "Escape") {
      drop();
      says.textContent = "";
    } else if (event.key === "Enter" && held?.link === link && held.moved) {
      event.preventDefault();
      ask();
    }
    return;
  }
  event.preventDefault();
  if (held?.link !== link) {
    drop();
    begin(link);
  }
  if (shift !== undefined) {
    held.start += shift;
  } else {
    const rows = rowsOf(held.svg);
    const next = rows[rows.indexOf(held.row) + step];
    held.row = next ?? held.row;
  }
  held.moved = true;
  tell();
}

function pressed(event) {
  const link = event.target.closest?.(".load-link");
  if (!link || event.button !== 0 || event.pointerType === "touch") {
    return;
  }
  event.preventDefault();
  link.focus({ preventScroll: true });
  drop();
  begin(link);
  held.x = event.clientX;
  held.y = event.clientY;
  link.setPointerCapture(event.pointerId);
}

function dragged(event) {
  if (!held || held.x === undefined) {
    return;
  }
  if (!held.moved && Math.hypot(event.clientX - held.x, event.clientY - held.y) < NEAR) {
    return;
  }
  held.moved = true;
  const scale = held.svg.getBoundingClientRect().width / held.svg.viewBox.baseVal.width;
  const perPixel = (Number(held.svg.dataset.end) - Number(held.svg.dataset.start)) / Number(held.svg.dataset.long) / scale;
  held.start = Math.round((held.first + (event.clientX - held.x) * perPixel) / GRAIN) * GRAIN;
  const under = rowsOf(held.svg).find((row) => {
    const box = row.getBoundingClientRect();
    return event.clientY >= box.top && event.clientY < box.bottom;
  });
  held.row = under ?? held.row;
  tell();
}

function released() {
  if (!held || held.x === undefined) {
    return;
  }
  if (held.moved) {
    ask();
  } else {
    const link = held.link;
    drop();
    window.location.assign(link.getAttribute("href"));
  }
}

if (board) {
  board.addEventListener("keydown", keyed);
  board.addEventListener("pointerdown", pressed);
  board.addEventListener("pointermove", dragged);
  board.addEventListener("pointerup", released);
  board.addEventListener("pointercancel", drop);
  board.addEventListener("click", (event) => {
    // a mouse is answered at its release, a finger and Enter follow the link
    if (event.target.closest?.(".load-link") && event.detail > 0 && event.pointerType !== "touch") {
      event.preventDefault();
    }
  });
}
