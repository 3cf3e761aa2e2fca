// The route set by hand: each move of a slider asks the server for the route as it then is. Only the latest answer counts;
// what was typed into the form below is kept. Without this script the form itself asks.

import { figure } from "./numbers.js";

const form = document.querySelector("form[data-route-try]");
const result = document.getElementById("hand-result");
const refused = document.getElementById("hand-refused");
const chooser = document.getElementById("hand-choose");
const sliders = ["load_percent", "speed_percent", "lap_margin", "finish_margin"];
let asked = 0;

function minutes(value) {
  const whole = Math.round(value);
  const rest = String(whole % 60).padStart(2, "0");
  return whole < 60 ? `${whole}\u00a0min` : `${Math.floor(whole / 60)}\u00a0h\u00a0${rest}\u00a0min`;
}

function share(value) {
  if (value < 0.01) {
    return "<\u00a01\u00a0%";
  }
  return value > 0.99 ? ">\u00a099\u00a0%" : `${Math.round(100 * value)}\u00a0%`;
}

function tell(name) {
  const value = form.elements[name].value;
  const text = name.endsWith("percent") ? `${value} %` : `× ${figure(Number(value), 2)}`;
  document.getElementById(`${name}-is`).textContent = text;
}

function query() {
  const wanted = new URLSearchParams({ drawing: "true" });
  for (const name of ["tools", "objective", ...sliders]) {
    wanted.set(name, form.elements[name].value);
  }
  wanted.set("target_chance_percent", form.elements.chance.value.replace(",", "."));
  if (form.elements.wafer) {
    wanted.set("wafer", form.elements.wafer.value);
  }
  return wanted;
}

// The links “why?” beside these numbers lead to the route as the sliders stand.
function lead() {
  const here = query();
  here.delete("drawing");
  here.delete("target_chance_percent");
  here.set("chance", form.elements.chance.value);
  for (const link of result.parentElement.querySelectorAll("a.why")) {
    const address = new URL(link.href);
    address.searchParams.set("from", `${location.pathname}?${here}#by-hand`);
    link.href = address;
  }
}

function show(plan) {
  lead();
  document.getElementById("hand-time").textContent = minutes(plan.total_time_min);
  document.getElementById("hand-cost").textContent = String(Math.round(plan.total_cost));
  document.getElementById("hand-chance").textContent = share(plan.chance_in_tolerance);
  document.getElementById("hand-holds").textContent = plan.holds ? form.dataset.holds : form.dataset.below;
  for (const { limit, chance } of plan.chances) {
    const meter = document.querySelector(`meter[data-limit="${limit}"]`);
    if (meter) {
      meter.value = chance;
      document.querySelector(`[data-limit-text="${limit}"]`).textContent = share(chance);
    }
  }
  const drawn = new DOMParser().parseFromString(plan.drawing, "image/svg+xml").documentElement;
  document.getElementById("hand-ruler").replaceChildren(document.importNode(drawn, true));
}

function refuse(sentence) {
  refused.textContent = sentence;
  refused.hidden = !sentence;
}

async function ask() {
  asked += 1;
  const mine = asked;
  result.dataset.waiting = "yes";
  let answer;
  try {
    answer = await (await fetch(`${form.dataset.routeTry}?${query()}`)).json();
  } catch {
    answer = { ok: false, error: form.dataset.lost };
  }
  if (mine !== asked) {
    return;
  }
  result.dataset.waiting = "no";
  result.hidden = !answer.ok;
  refuse(answer.ok ? "" : answer.error);
  chooser.querySelector("button").disabled = !answer.ok;
  if (answer.ok) {
    show(answer.result);
    for (const name of ["tools", ...sliders]) {
      chooser.elements[name].value = form.elements[name].value;
    }
  }
}

function start() {
  const picked = form.elements.tools.selectedOptions[0].dataset;
  form.elements.load_percent.value = picked.load;
  form.elements.speed_percent.value = picked.speed;
  form.elements.lap_margin.value = picked.laps;
  form.elements.finish_margin.value = picked.finish;
  sliders.forEach(tell);
  ask();
}

if (form) {
  sliders.forEach(tell);
  form.addEventListener("input", (event) => {
    if (sliders.includes(event.target.name)) {
      tell(event.target.name);
      ask();
    }
  });
  form.elements.tools.addEventListener("change", start);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    ask();
  });
}
