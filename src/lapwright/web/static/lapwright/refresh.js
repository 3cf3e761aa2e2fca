// Fetches the page again when something was recorded, which a socket tells, and every few seconds besides; one part of
// it is replaced, unless somebody has the focus in there: then as soon as the focus has left it.

import { onRecords } from "./records_socket.js";

const part = document.querySelector("[data-refresh-s]");
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

window.setInterval(refresh, 1000 * Number(part.dataset.refreshS));
part.addEventListener("focusout", () => window.setTimeout(() => isDue && refresh(), 50));
document.addEventListener("visibilitychange", () => isDue && refresh());
if (part.dataset.written) {
  onRecords((said) => {
    if (String(said.written) !== part.dataset.written) {
      void refresh();
    }
  });
}
