// Shows the routes as soon as they are found, unless somebody is busy in a form; then a button offers them. Without this
// script the page is fetched again every two seconds, and a link looks again.

const state = document.getElementById("route-search");
const OFTEN_MS = 300;
const RARELY_MS = 2000;
const LONG_MS = 10000; // after which it is looked for less often
const start = Date.now();

function isInHand() {
  const field = document.activeElement?.closest?.("form");
  return Boolean(field && document.querySelector("main")?.contains(field));
}

function offer() {
  state.querySelector("[data-found]").hidden = false;
  state.querySelector("[data-again]").hidden = true;
  state.querySelector("[role=status]").textContent = state.dataset.found;
}

async function look() {
  try {
    const answer = document.hidden ? null : await fetch(state.dataset.address);
    if (answer) {
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      if (!fresh.querySelector("#route-search[data-going]")) {
        if (isInHand()) {
          offer();
        } else {
          window.location.replace(state.dataset.address);
        }
        return;
      }
    }
  } catch {
    // The server is away; it is asked again.
  }
  window.setTimeout(look, Date.now() - start < LONG_MS ? OFTEN_MS : RARELY_MS);
}

if (state) {
  window.setTimeout(look, OFTEN_MS);
}
