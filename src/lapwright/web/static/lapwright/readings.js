// Stores readings without reloading the page. The box stays where it is and keeps the focus; the sheet around it is
// replaced by what the server answers. Values typed while an answer is under way wait in a queue, in order. When the
// server asks a question, what waits is not sent: it is named, so that nothing is recorded against the wrong site.
// What the server does not take stays at the head of the queue, and is sent before whatever is typed after it.

import { GaugeFeed } from "./gauge_feed.js";

const form = document.querySelector("form[data-take]");
const box = form?.querySelector("input[name=value]");
const waiting = [];
const TRY_AGAIN_MS = 2000;
let busy = false;
let held = false;
let again = 0;

function say(text, kind) {
  const notice = document.getElementById("notice");
  const paragraph = document.createElement("p");
  paragraph.textContent = text;
  notice.replaceChildren(paragraph);
  notice.className = `notice ${kind}`;
}

function place(html) {
  const fresh = new DOMParser().parseFromString(html, "text/html");
  for (const part of fresh.querySelectorAll("[data-part]")) {
    document.getElementById(part.id)?.replaceWith(part);
  }
  const notice = document.getElementById("notice");
  const said = fresh.getElementById("notice");
  notice.className = said.className;
  notice.replaceChildren(...said.childNodes);
  const state = fresh.querySelector("[data-state]").dataset;
  form.elements.questioned.value = state.questioned;
  form.elements.seen.value = state.seen;
  form.elements.correct.value = state.correct;
  form.elements.site.value = state.site;
  return state;
}

// The keyboard of a phone covers the lower half: the site asked for goes to the top, box and notice stay above it.
function inSight() {
  if (document.activeElement === box && window.matchMedia("(pointer: coarse)").matches) {
    document.getElementById("sheet-asked")?.scrollIntoView({ block: "start" });
  }
}

function keepBack(text) {
  const named = waiting.map((one) => one.text).join(", ");
  waiting.length = 0;
  return named ? `${text} ${form.dataset.kept} ${named}` : text;
}

function hold(one, text) {
  held = true;
  waiting.unshift(one);
  say(`${text} ${waiting.map((left) => left.text).join(", ")}`, "bad");
}

async function send(one, questioned) {
  const { text, byGauge } = one;
  const body = new FormData(form);
  body.set("value", text);
  body.set("by_gauge", byGauge ? feed.words.station : "");
  body.set("questioned", questioned);
  let answer, html;
  try {
    answer = await fetch(form.action, { method: "POST", body, headers: { "X-Part": "sheet" } });
    html = await answer.text();
  } catch {
    hold(one, form.dataset.lost);
    again = setTimeout(work, TRY_AGAIN_MS);
    return false;
  }
  if (!answer.headers.has("X-Part")) {
    const told = new DOMParser().parseFromString(html, "text/html").querySelector("main .notice p");
    hold(one, `${told?.textContent ?? ""} ${form.dataset.refused}`);
    return false;
  }
  held = false;
  const state = place(html);
  if (state.again || state.questioned) {
    box.value = state.again;
    document.getElementById("notice").append(keepBack(""));
    box.select();
    inSight();
  }
  if (window.location.search && !state.correct) {
    window.history.replaceState(null, "", window.location.pathname);
  }
  if (state.takes !== "yes") {
    window.location.reload();
  }
  return true;
}

async function work() {
  if (busy) {
    return;
  }
  busy = true;
  clearTimeout(again);
  while (waiting.length > 0 && (await send(waiting.shift(), form.elements.questioned.value)));
  busy = false;
}

function enter(text, byGauge) {
  waiting.push({ text, byGauge });
  box.value = "";
  void work();
}

// What the gauge sends goes to the next site, unless somebody is typing.
function takeSent(text) {
  if (box.value.trim()) {
    say(feed.words.typing, "doubt");
    return;
  }
  enter(text, true);
  box.focus();
}

const part = document.getElementById("gauge-feed");
const feed = part && box ? new GaugeFeed(part, takeSent) : null;

form?.addEventListener("submit", (event) => {
  event.preventDefault();
  const text = box.value.trim();
  const shown = text || !feed ? null : feed.shown();
  if (text) {
    enter(text, false);
  } else if (held) {
    void work();
  } else if (shown) {
    enter(shown, true);
  } else if (feed) {
    say(feed.why(), "doubt");
  }
  box.focus();
});

// Leaving now would lose what waits: the browser asks.
addEventListener("beforeunload", (event) => {
  if (held) event.preventDefault();
});

window.visualViewport?.addEventListener("resize", inSight);
box?.focus();
