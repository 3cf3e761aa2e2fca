// Keeps a practice run up: asks the server a few times a second, shows what Countdown would show, and draws the trace.
// When the run has ended the page is fetched anew.

import { figure } from "./numbers.js";
import { Trace } from "./trace.js";

const EVERY_MS = 250;
const page = document.getElementById("practice");
const trace = new Trace(page.querySelector("[data-trace]"), page.dataset);
let since = 0;
let busy = false;

function put(name, text) {
  const place = page.querySelector(`[data-field="${name}"]`);
  if (place && place.textContent !== text) {
    place.textContent = text;
  }
}

const known = (value, digits) => (value === null ? "–" : figure(value, digits));

function show(fields) {
  page.dataset.shape = fields.shape;
  put("state", fields.state);
  put("alarm", fields.alarm);
  put("number", fields.number);
  put("unit", fields.unit);
  page.querySelector('[data-field="number"]').classList.toggle("as-word", !fields.unit);
  put("rate", known(fields.rate_um_per_min, 2));
  put("margin", known(fields.margin_um, 2));
  const whole = Math.round(fields.elapsed_s);
  put("elapsed", `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}\u00a0min`);
  since = fields.points.at(-1)?.[0] ?? since;
  trace.take(fields);
}

async function ask() {
  if (busy) {
    return;
  }
  busy = true;
  try {
    const answer = await fetch(`${page.dataset.live}?since=${since}`);
    if (answer.ok) {
      const fields = await answer.json();
      show(fields);
      if (fields.over) {
        window.location.reload();
        return; // and ask no more
      }
    }
  } catch {
    put("alarm", page.dataset.lost);
  }
  busy = false;
}

void ask();
window.setInterval(ask, EVERY_MS);
