// Shows what the order would be like while it is typed: after each pause the server is asked, and only the latest answer
// counts. Nothing is recorded by that. Without this script the button beside the form asks.

const form = document.querySelector("form[data-outlook]");
const places = document.querySelectorAll("#outlook, [data-answer]");
const PAUSE_MS = 500;
let asked = 0;
let timer = 0;

async function ask() {
  asked += 1;
  const mine = asked;
  try {
    const answer = await fetch(form.dataset.outlook, { method: "POST", body: new FormData(form) });
    const html = await answer.text();
    if (mine === asked && answer.ok) {
      const fresh = new DOMParser().parseFromString(html, "text/html");
      for (const place of places) {
        place.replaceChildren(...(fresh.getElementById(place.id)?.childNodes ?? []));
      }
    }
  } catch {
    // The server is away; what was typed is still in the form.
  }
}

form?.addEventListener("input", () => {
  window.clearTimeout(timer);
  timer = window.setTimeout(ask, PAUSE_MS);
});

if (form) {
  void ask();
}
