// Fetches the page again every few seconds and replaces one part of it, unless somebody has the focus in there.

const part = document.querySelector("[data-refresh-s]");

async function refresh() {
  if (document.hidden || part.contains(document.activeElement)) {
    return;
  }
  try {
    const answer = await fetch(window.location.href);
    if (answer.ok) {
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      part.replaceChildren(...fresh.getElementById(part.id).childNodes);
    }
  } catch {
    // The server is away; what is shown stays until it is back.
  }
}

window.setInterval(refresh, 1000 * Number(part.dataset.refreshS));
