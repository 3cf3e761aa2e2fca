// Shows what the order would be like while it is typed: after each pause the server is asked, and only the latest answer
// counts; what was asked before is cancelled. While routes are still being searched for it the server is asked again until
// they are found. Nothing is recorded by that. Without this script the button beside the form asks.

const form = document.querySelector("form[data-outlook]");
const places = document.querySelectorAll("#outlook, [data-answer]");
const PAUSE_MS = 500;
const AGAIN_MS = 300; // between looks while routes are being searched
let running = new AbortController();
let timer = 0;

function askIn(pause) {
  window.clearTimeout(timer);
  timer = window.setTimeout(ask, pause);
}

function show(html) {
  const fresh = new DOMParser().parseFromString(html, "text/html");
  for (const place of places) {
    const other = fresh.getElementById(place.id);
    if (other && place.innerHTML !== other.innerHTML) {
      place.replaceChildren(...other.childNodes);
    }
  }
  return fresh.querySelector("#outlook[data-going]") !== null;
}

async function ask() {
  running.abort();
  running = new AbortController();
  const mine = running;
  try {
    const sent = { method: "POST", body: new FormData(form), signal: mine.signal };
    const answer = await fetch(form.dataset.outlook, sent);
    const html = await answer.text();
    if (mine === running && answer.ok && show(html)) {
      askIn(AGAIN_MS);
    }
  } catch {
    // The server is away, or something else was typed; what was typed is still in the form.
  }
}

form?.addEventListener("input", () => {
  running.abort();
  askIn(PAUSE_MS);
});

if (form) {
  void ask();
}
