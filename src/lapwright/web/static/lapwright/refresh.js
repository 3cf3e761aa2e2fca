// Fetches the page again when something was recorded, which a socket tells, and every few seconds besides; one part of
// it is replaced, unless somebody has the focus in there: then as soon as the focus has left it.

const WAITS_MS = [500, 1000, 2000, 4000, 8000]; // between attempts to connect
const part = document.querySelector("[data-refresh-s]");
let attempts = 0;
let isDue = false;
let busy = false;

async function refresh() {
  isDue = true;
  if (busy || document.hidden || part.contains(document.activeElement)) {
    return;
  }
  busy = true;
  isDue = false;
  try {
    const answer = await fetch(window.location.href);
    if (answer.ok) {
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById(part.id);
      part.dataset.written = fresh.dataset.written ?? "";
      part.replaceChildren(...fresh.childNodes);
    }
  } catch {
    // The server is away; what is shown stays until it is back.
  }
  busy = false;
}

function connect() {
  const scheme = window.location.protocol === "https:" ? "wss" : "ws";
  const socket = new WebSocket(`${scheme}://${window.location.host}/live?records`);
  socket.addEventListener("message", (event) => {
    attempts = 0;
    if (String(JSON.parse(event.data).written) !== part.dataset.written) {
      void refresh();
    }
  });
  socket.addEventListener("close", () => {
    const wait = WAITS_MS[Math.min(attempts, WAITS_MS.length - 1)];
    attempts += 1;
    window.setTimeout(connect, wait);
  });
}

window.setInterval(refresh, 1000 * Number(part.dataset.refreshS));
part.addEventListener("focusout", () => window.setTimeout(() => isDue && refresh(), 50));
document.addEventListener("visibilitychange", () => isDue && refresh());
if (part.dataset.written) {
  connect();
}
