// Keeps stations up to date over one socket. Every number has an age; one that is older than its limit is replaced by a
// word, whether the gauge, the recorder or the server fell silent. The page never decides anything: it shows.

import { figure } from "./numbers.js";
import { Trace } from "./trace.js";

const PATIENCE_MS = 2500; // without a message, the page says that it hears nothing
const WAITS_MS = [500, 1000, 2000, 4000, 8000]; // between attempts to connect
const NOT_OURS = 4403;

const page = document.getElementById("live");
const words = page.dataset;
const countdown = document.getElementById("countdown");
const trace = countdown && new Trace(countdown.querySelector("[data-trace]"), words);
const latest = new Map(); // station -> { fields, at }
let heard = performance.now();
let attempts = 0;
let away = false;
let sound = null;

const cards = () => page.querySelectorAll("[data-station]");

function put(card, name, text) {
  const place = (card.id ? page : card).querySelector(`[data-field="${name}"]`);
  if (place && place.textContent !== text) {
    place.textContent = text;
  }
}

function clock(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}

const going = (fields) => fields && (fields.word === "running" || fields.word === "stopping");

function look(card, fields, age) {
  const lost = performance.now() - heard > PATIENCE_MS;
  if (lost) {
    return { shape: card.dataset.run ? "wrong" : "doubt", state: words.lostState, alarm: words.lost };
  }
  if (going(fields)) {
    if (fields.target_um !== null && (age === null || age > Number(card.dataset.ageLimitS))) {
      return { shape: "wrong", state: words.silentState, alarm: fields.sentence || words.silent };
    }
    return { shape: fields.shape, state: fields.state, alarm: fields.sentence };
  }
  if (card.dataset.ended) {
    return { shape: "wrong", state: card.dataset.endedState, alarm: card.dataset.endedAlarm };
  }
  if (!fields || card.dataset.hand) {
    return null; // nothing is known beyond what the page came with
  }
  if (!card.dataset.feed && !card.dataset.run) {
    return { shape: "calm", state: words.noGauge, alarm: "" };
  }
  if (fields.word === "recorder_away") {
    return { shape: card.dataset.run ? "wrong" : "doubt", state: fields.state, alarm: fields.sentence };
  }
  const silent = fields.word === "no_gauge" ? fields.gauge_sentence : "";
  return { shape: fields.shape, state: fields.state, alarm: fields.sentence || silent };
}

function number(fields, age, limit) {
  if (!going(fields) || performance.now() - heard > PATIENCE_MS) {
    return null;
  }
  if (fields.left_um !== null) {
    return age === null || age > limit ? null : { text: figure(fields.left_um, 1), unit: words.unitUm };
  }
  return fields.time_left_s === null ? null : { text: clock(fields.time_left_s), unit: words.unitMin };
}

function details(card, fields, age) {
  const on = going(fields);
  put(card, "finish", (on && fields.finish) || (card === countdown ? "–" : ""));
  put(card, "wafer", fields.wafer);
  put(card, "rate", on && fields.rate_um_per_min !== null ? figure(fields.rate_um_per_min, 2) : "–");
  put(card, "margin", on && fields.margin_um !== null ? figure(fields.margin_um, 2) : "–");
  put(card, "stop", fields.stop_word);
  put(card, "age", age === null ? "–" : `${figure(age, 1)}\u00a0${words.ago}`);
  put(card, "stored", on ? `${fields.stored} / ${fields.readings}` : "–");
  put(card, "shows", age !== null && age < 2 ? `${figure(fields.reading_um, 2)}\u00a0µm,` : "");
  put(card, "reading", age !== null && age < 2 ? `${figure(fields.reading_um, 2)}\u00a0µm` : "–");
}

function show(card) {
  const known = latest.get(card.dataset.station);
  const fields = known?.fields;
  const since = known ? (performance.now() - known.at) / 1000 : 0;
  const age = known && fields.age_s !== null ? fields.age_s + since : null;
  const seen = look(card, fields, age);
  if (fields) {
    details(card, fields, age);
  }
  if (!seen) {
    return;
  }
  if (card.dataset.shape !== seen.shape) {
    card.dataset.shape = seen.shape;
    sing(seen.shape);
  }
  const left = number(fields, age, Number(card.dataset.ageLimitS));
  put(card, "state", seen.state);
  put(card, "alarm", seen.alarm);
  put(card, "number", left ? left.text : card === countdown ? seen.state : "");
  put(card, "unit", left ? left.unit : "");
  card.querySelector('[data-field="number"]').classList.toggle("as-word", !left);
}

// What the records say has changed: fetch the page again and put its parts in place of the old ones.
let fetching = false;
async function renew() {
  if (fetching) {
    return false;
  }
  fetching = true;
  try {
    const answer = await fetch(countdown?.dataset.here ?? window.location.href.split("#")[0]); // not the address of a form sent
    if (!answer.ok) {
      return false;
    }
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const part of fresh.querySelectorAll("[data-part]")) {
      document.getElementById(part.id)?.replaceWith(document.adoptNode(part));
    }
    if (countdown) {
      const told = fresh.getElementById("countdown").dataset;
      for (const name of ["run", "ended", "endedState", "endedAlarm", "hand", "feed", "ageLimitS"]) {
        countdown.dataset[name] = told[name] ?? "";
      }
      countdown.querySelector("[data-running]").hidden = !told.run;
    }
    prepare();
    return true;
  } catch {
    return false; // the server is away; the socket says so
  } finally {
    fetching = false;
  }
}

function take(batches) {
  heard = performance.now();
  for (const fields of batches) {
    if (fields.word === "recorder_away" && !fields.station) {
      for (const card of cards()) {
        latest.set(card.dataset.station, { fields: { ...fields, station: card.dataset.station }, at: heard });
      }
      continue;
    }
    latest.set(fields.station, { fields, at: heard });
    if (countdown && fields.station === countdown.dataset.station) {
      trace.take(fields);
      const run = fields.run === null ? "" : String(fields.run);
      if (fields.word !== "recorder_away" && run !== countdown.dataset.run) {
        void renew();
      }
    }
  }
  cards().forEach(show);
}

function say(text) {
  put(document.getElementById("live"), "connection", text);
}

function connect() {
  const station = countdown ? `?station=${encodeURIComponent(countdown.dataset.station)}` : "";
  const scheme = window.location.protocol === "https:" ? "wss" : "ws";
  const socket = new WebSocket(`${scheme}://${window.location.host}/live${station}`);
  socket.addEventListener("message", (event) => {
    if (away) {
      away = false;
      say(words.back);
      void renew();
      trace?.load(countdown.dataset.past);
    }
    attempts = 0;
    take(JSON.parse(event.data).batches);
  });
  socket.addEventListener("close", (event) => {
    away = true;
    const wait = WAITS_MS[Math.min(attempts, WAITS_MS.length - 1)];
    attempts += 1;
    say(words.again.replace("%s", String(wait / 1000)));
    window.setTimeout(async () => {
      say(words.trying);
      if (event.code === NOT_OURS) {
        await renew(); // the page gives the ticket anew
      }
      connect();
    }, wait);
  });
}

// The stop is asked without leaving the page: if the server is away, what is shown must not be lost with it.
async function askForStop(event) {
  event.preventDefault();
  const place = document.getElementById("stop-said");
  const form = event.currentTarget;
  const button = form.querySelector("button");
  button.disabled = true;
  try {
    const answer = await fetch(form.action, { method: "POST", body: new FormData(form) });
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
    place.textContent = [...fresh.querySelectorAll("main > .notice")].map((one) => one.textContent.trim()).join(" ");
    if (!answer.ok) {
      place.textContent ||= words.stopLost;
    }
  } catch {
    place.textContent = words.stopLost;
  }
  place.hidden = !place.textContent;
  button.disabled = false;
}

// Sound is a repetition for the ear of what the eye can see; it is off until somebody wants it.
function sing(shape) {
  if (!sound || (shape !== "wrong" && shape !== "ending")) {
    return;
  }
  const tones = shape === "wrong" ? [880, 440, 880, 440] : [523, 659];
  tones.forEach((pitch, index) => {
    const tone = sound.createOscillator();
    const loud = sound.createGain();
    loud.gain.value = 0.25;
    tone.frequency.value = pitch;
    tone.connect(loud).connect(sound.destination);
    tone.start(sound.currentTime + 0.3 * index);
    tone.stop(sound.currentTime + 0.3 * index + 0.22);
  });
}

function prepareSound() {
  const button = page.querySelector("[data-sound]");
  if (!button || !("AudioContext" in window)) {
    return;
  }
  button.hidden = false;
  button.addEventListener("click", () => {
    void sound?.close();
    sound = sound ? null : new AudioContext();
    button.setAttribute("aria-pressed", String(Boolean(sound)));
    button.textContent = sound ? words.soundOn : words.soundOff;
    sing("ending");
  });
}

// The zero can be taken from the gauge: each press fills the next empty box.
function prepare() {
  const button = page.querySelector("[data-zero] [data-take]");
  if (!button) {
    return;
  }
  button.hidden = false;
  button.addEventListener("click", () => {
    const known = latest.get(countdown.dataset.station);
    const boxes = [...button.form.querySelectorAll("input[type=text]")];
    const empty = boxes.find((box) => !box.value);
    if (empty && known && known.fields.age_s !== null && known.fields.age_s < 2) {
      empty.value = `${figure(known.fields.reading_um, 2)} µm`;
    }
  });
}

// What is looked at before a start changes by itself (a gauge wakes up); look again while nobody works in there.
function lookAgain() {
  const after = document.getElementById("after");
  const busy = !after || after.contains(document.activeElement) || after.matches(":hover");
  const typed = after && [...after.querySelectorAll("input[type=text], input[type=number]")].some((box) => box.value);
  if (countdown && !document.hidden && !busy && !typed && after.querySelector(".start-run")) {
    void renew();
  }
}

countdown?.querySelector("[data-running]").addEventListener("submit", askForStop);
prepareSound();
prepare();
trace?.load(countdown.dataset.past);
connect();
window.setInterval(() => cards().forEach(show), 250);
window.setInterval(lookAgain, 3000);
