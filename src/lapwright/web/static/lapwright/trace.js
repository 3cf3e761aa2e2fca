// The removal shown by the gauge against time, with the target, the line where the stop is asked, and the band in which
// the end is expected. The past comes from the server thinned to extremes; what comes after is thinned here likewise.

import { figure } from "./numbers.js";

const MOST = 1200; // stretches kept
const MARGIN = { left: 62, right: 14, top: 12, bottom: 40 };
const SPACE = "http://www.w3.org/2000/svg";
const INK = "#18222c";
// As it looks where no style sheet is: saved, the drawing stands alone. The page's own style comes first.
const LOOKS = {
  grid: { stroke: "#7b8794", "stroke-width": 0.4 },
  frame: { fill: "none", stroke: "currentColor", "stroke-width": 1.2 },
  readings: { fill: "currentColor", stroke: "currentColor", "stroke-width": 2, "stroke-linejoin": "round" },
  target: { stroke: "currentColor", "stroke-width": 3 },
  "stop-line": { stroke: "currentColor", "stroke-width": 1.5, "stroke-dasharray": "8 5" },
  band: { fill: "#7b8794", "fill-opacity": 0.35, stroke: "#7b8794" },
};

function make(name, attributes, text) {
  const element = document.createElementNS(SPACE, name);
  for (const [key, value] of Object.entries({ ...LOOKS[attributes.class], ...attributes })) {
    element.setAttribute(key, value);
  }
  if (text !== undefined) {
    element.textContent = text;
  }
  return element;
}

function step(span, marks) {
  const rough = span / marks;
  const power = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 5, 10].map((factor) => factor * power).find((size) => size >= rough);
}

function ticks(low, high, marks) {
  const size = step(high - low, marks);
  const digits = Math.max(0, -Math.floor(Math.log10(size) + 1e-9));
  const found = [];
  for (let value = Math.ceil(low / size) * size; value <= high + 1e-9 * size; value += size) {
    found.push({ value, text: figure(value, digits) });
  }
  return found;
}

export class Trace {
  constructor(place, words) {
    this.place = place;
    this.words = words;
    this.run = undefined;
    this.stretches = []; // [time in s, least, greatest in µm]
    this.width = 0; // of a stretch in s, 0 while every reading has its own
    this.fields = null; // of the run that goes on
    this.wanted = null; // of the run that the past belongs to
    this.due = false;
    new ResizeObserver(() => this.draw()).observe(place);
  }

  async load(address) {
    try {
      const answer = await fetch(address);
      const past = await answer.json();
      if (past.run !== null && (this.run === undefined || this.run === past.run)) {
        const last = past.points_s_um_um.at(-1)?.[0] ?? 0;
        this.run = past.run;
        this.wanted = { target_um: past.target_um, margin_um: past.margin_um, word: "", time_left_high_s: null };
        this.stretches = [...past.points_s_um_um, ...this.stretches.filter((one) => one[0] > last)];
        this.draw();
      }
    } catch {
      // The server is away; the trace goes on from here.
    }
  }

  take(fields) {
    if (fields.run !== null && fields.run !== this.run) {
      this.run = fields.run;
      this.stretches = [];
      this.width = 0;
    }
    if (fields.run === null) {
      this.fields = null;
      return;
    }
    this.fields = fields;
    for (const [time, removed] of fields.points) {
      this.add(time, removed);
    }
    if (!this.due) {
      this.due = true;
      window.setTimeout(() => {
        this.due = false;
        this.draw();
      }, 200);
    }
  }

  add(time, removed) {
    const last = this.stretches.at(-1);
    if (last && time <= last[0]) {
      return;
    }
    if (last && time - last[0] < this.width) {
      last[1] = Math.min(last[1], removed);
      last[2] = Math.max(last[2], removed);
      return;
    }
    this.stretches.push([time, removed, removed]);
    if (this.stretches.length > MOST) {
      this.thin();
    }
  }

  thin() {
    const thinned = [];
    for (let index = 0; index < this.stretches.length; index += 2) {
      const [one, two] = [this.stretches[index], this.stretches[index + 1] ?? this.stretches[index]];
      thinned.push([one[0], Math.min(one[1], two[1]), Math.max(one[2], two[2])]);
    }
    this.stretches = thinned;
    this.width = (thinned.at(-1)[0] - thinned[0][0]) / thinned.length;
  }

  draw() {
    const { clientWidth: wide, clientHeight: tall } = this.place;
    if (this.stretches.length < 2 || wide < 120 || tall < 90) {
      return;
    }
    const scale = this.scale(wide, tall);
    const svg = this.place.querySelector("svg.live-trace") ?? this.blank(); // the same one, so that it keeps the focus
    for (const [key, value] of Object.entries({ viewBox: `0 0 ${wide} ${tall}`, width: wide, height: tall })) {
      svg.setAttribute(key, value);
    }
    svg.replaceChildren(
      make("title", {}, this.words.title), make("desc", {}, this.described()),
      make("metadata", { class: "data" }, this.numbers()),
      ...this.axes(scale), ...this.levels(scale), ...this.ahead(scale), this.readings(scale),
    );
  }

  blank() {
    const svg = make("svg", {
      role: "img", tabindex: 0, class: "drawing live-trace", color: INK, "font-size": 15,
      "font-family": "'DejaVu Sans', Verdana, Helvetica, Arial, sans-serif",
    });
    this.place.replaceChildren(svg);
    return svg;
  }

  described() {
    const last = this.stretches.at(-1);
    const { target_um: target, time_left_low_s: low, time_left_high_s: high } = this.fields ?? this.wanted ?? {};
    const parts = [`${this.words.removed}: ${figure(last[2], 1)} µm, ${figure(last[0] / 60, 1)} min`];
    if (target ?? null) {
      parts.push(`${this.words.target} ${figure(target, 1)} µm`);
    }
    if (this.isExpected()) {
      const [early, late] = [low, high].map((left) => figure((this.fields.elapsed_s + left) / 60, 1));
      parts.push(`${this.words.band} ${early} … ${late} min`);
    }
    return `${parts.join("; ")}.`;
  }

  // What is drawn, as CSV: the readings with the extremes of each stretch, then estimate, 90 % band and levels.
  numbers() {
    const rows = this.stretches.map(([time, low, high]) => ["readings", time, low, high]);
    const fields = this.fields ?? this.wanted;
    if (this.isExpected()) {
      const { elapsed_s: now, removed_um: removed, target_um: target, margin_um: margin } = fields;
      rows.push(["estimate", now, removed, removed]);
      const stop = target - (margin ?? 0);
      rows.push(["stop_earliest", now + fields.time_left_low_s, stop, stop]);
      rows.push(["stop_latest", now + fields.time_left_high_s, stop, stop]);
    }
    if ((fields?.target_um ?? null) !== null) {
      rows.push(["target", null, fields.target_um, fields.target_um]);
      if (fields.margin_um) {
        const stop = fields.target_um - fields.margin_um;
        rows.push(["stop", null, stop, stop]);
      }
    }
    const cell = (value) => (typeof value === "number" ? String(Number(value.toPrecision(7))) : value ?? "");
    return ["line,time_s,removed_low_um,removed_high_um", ...rows.map((row) => row.map(cell).join(",")), ""].join("\n");
  }

  isExpected() {
    return this.fields?.word === "running" && this.fields.target_um !== null && this.fields.time_left_high_s !== null;
  }

  scale(wide, tall) {
    const fields = this.fields ?? this.wanted;
    const end = this.stretches.at(-1)[0];
    const most = this.stretches.reduce((found, one) => Math.max(found, one[2]), 0);
    const least = this.stretches.reduce((found, one) => Math.min(found, one[1]), 0);
    const near = fields && fields.target_um !== null && most > 0.25 * fields.target_um;
    const lastly = near && fields.time_left_high_s !== null ? Math.min(fields.time_left_high_s, 1.5 * end) : 0;
    const right = Math.max(end + lastly, 30) * 1.02;
    const top = (near ? Math.max(most, fields.target_um) : Math.max(1.3 * most, 1)) * 1.06;
    const across = (time) => MARGIN.left + ((wide - MARGIN.left - MARGIN.right) * time) / right;
    const along = (removed) => tall - MARGIN.bottom - ((tall - MARGIN.bottom - MARGIN.top) * (removed - least)) / (top - least);
    return { wide, tall, right, top, least, across, along };
  }

  axes({ wide, tall, right, top, least, across, along }) {
    const parts = [];
    for (const { value, text } of ticks(least, top, Math.max(2, tall / 60))) {
      parts.push(make("path", { d: `M${MARGIN.left} ${along(value)}H${wide - MARGIN.right}`, class: "grid" }));
      parts.push(make("text", { x: MARGIN.left - 8, y: along(value) + 5, "text-anchor": "end" }, text));
    }
    for (const { value, text } of ticks(0, right / 60, Math.max(2, wide / 110))) {
      parts.push(make("text", { x: across(60 * value), y: tall - MARGIN.bottom + 18, "text-anchor": "middle" }, text));
    }
    const frame = `M${MARGIN.left} ${MARGIN.top}V${tall - MARGIN.bottom}H${wide - MARGIN.right}`;
    parts.push(make("path", { d: frame, class: "frame" }));
    parts.push(make("text", { x: wide - MARGIN.right, y: tall - 4, "text-anchor": "end" }, this.words.time));
    const turned = `translate(14 ${(tall - MARGIN.bottom) / 2}) rotate(-90)`;
    parts.push(make("text", { transform: turned, "text-anchor": "middle" }, this.words.removed));
    return parts;
  }

  levels({ wide, top, across, along }) {
    const fields = this.fields ?? this.wanted;
    if (!fields || fields.target_um === null) {
      return [];
    }
    if (fields.target_um > top) {
      const above = `\u2191 ${this.words.target} ${figure(fields.target_um, 1)} µm`;
      return [make("text", { x: across(0) + 8, y: MARGIN.top + 12 }, above)];
    }
    const target = along(fields.target_um);
    const parts = [
      make("path", { d: `M${across(0)} ${target}H${wide - MARGIN.right}`, class: "target" }),
      make("text", { x: across(0) + 8, y: target - 5 < 14 ? target + 16 : target - 5 }, this.words.target),
    ];
    if (fields.margin_um) {
      const stop = along(fields.target_um - fields.margin_um);
      parts.push(make("path", { d: `M${across(0)} ${stop}H${wide - MARGIN.right}`, class: "stop-line" }));
    }
    return parts;
  }

  ahead({ top, across, along }) {
    const fields = this.fields;
    if (!this.isExpected() || fields.target_um > top) {
      return [];
    }
    const stop = along(fields.target_um - (fields.margin_um ?? 0));
    const now = `${across(fields.elapsed_s)} ${along(fields.removed_um)}`;
    const [early, late] = [fields.time_left_low_s, fields.time_left_high_s].map((left) => across(fields.elapsed_s + left));
    return [make("path", { d: `M${now}L${early} ${stop}H${late}Z`, class: "band" })];
  }

  readings({ across, along }) {
    const upper = this.stretches.map((one) => `${across(one[0]).toFixed(1)} ${along(one[2]).toFixed(1)}`);
    const lower = this.stretches.map((one) => `${across(one[0]).toFixed(1)} ${along(one[1]).toFixed(1)}`);
    return make("path", { d: `M${upper.join("L")}L${lower.reverse().join("L")}Z`, class: "readings" });
  }
}
