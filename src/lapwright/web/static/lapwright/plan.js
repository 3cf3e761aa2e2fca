// Keeps the Board up: renews the sentence on how old its plan is, and shows a newer plan as soon as there is one, unless
// somebody types or moves a load; then a button offers it. Without this script a link looks again.

import { onRecords } from "./records_socket.js";

const GOING_MS = 1000; // between looks while a plan is being worked out
const IDLE_MS = 15000;
const state = document.getElementById("plan-state");
let busy = false;

function isInHand() {
  const field = document.activeElement?.closest?.("form");
  return document.querySelector(".load-link.moving") !== null || (field && document.querySelector("main")?.contains(field));
}

function show(fresh) {
  if (fresh.dataset.shown !== state.dataset.shown && !isInHand()) {
    window.location.reload();
    return;
  }
  const offer = fresh.querySelector("[data-new-plan]");
  offer.hidden = fresh.dataset.shown === state.dataset.shown;
  state.className = fresh.className;
  state.toggleAttribute("data-going", fresh.hasAttribute("data-going"));
  if (state.innerHTML !== fresh.innerHTML && !state.contains(document.activeElement)) {
    state.replaceChildren(...fresh.childNodes);
  }
}

async function look() {
  if (busy || document.hidden) {
    return;
  }
  busy = true;
  try {
    const answer = await fetch(state.dataset.address);
    if (answer.ok) {
      show(new DOMParser().parseFromString(await answer.text(), "text/html").getElementById(state.id));
    }
  } catch {
    // The server is away; what is shown stays until it is back.
  }
  busy = false;
}

function lookLater() {
  window.setTimeout(() => void look().then(lookLater), "going" in state.dataset ? GOING_MS : IDLE_MS);
}

if (state) {
  let known = null;
  onRecords((said) => {
    const mark = `${said.written} ${said.plan}`;
    if (known !== null && known !== mark) {
      void look();
    }
    known = mark;
  });
  lookLater();
  document.addEventListener("visibilitychange", () => void look());
}
