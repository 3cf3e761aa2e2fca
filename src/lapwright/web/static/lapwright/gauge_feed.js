// The gauge of a station fills the next site. A gauge with a send key or a foot switch sends one reading at a time: each
// goes where it belongs by itself. A gauge that sends all the time is shown, and Enter in the empty box takes what it
// shows. Which of the two it is, is seen from how it sends: a single reading waits a moment for a second one.

import { figure } from "./numbers.js";

const WAITS_MS = [500, 1000, 2000, 4000, 8000]; // between attempts to connect
const ALONE_MS = 600; // a reading that no other follows within this was sent by a key
const QUIET_MS = 2000; // a gauge that was silent for so long does not send all the time any more
const FRESH_S = 2; // older than that nothing is taken by Enter
const SAME_S = 0.15; // two looks at one reading differ in its time by less than this

export class GaugeFeed {
  constructor(part, take) {
    this.part = part;
    this.words = part.dataset;
    this.take = take;
    this.taken = null; // when the reading came that was seen last, by this page's clock [s]
    this.reading = null;
    this.alone = 0;
    this.attempts = 0;
    this.fast = false;
    this.connect();
    window.setInterval(() => this.show(), 500);
  }

  connect() {
    const scheme = window.location.protocol === "https:" ? "wss" : "ws";
    const station = encodeURIComponent(this.words.station);
    const socket = new WebSocket(`${scheme}://${window.location.host}/live?station=${station}`);
    socket.addEventListener("message", (event) => {
      this.attempts = 0;
      for (const fields of JSON.parse(event.data).batches) {
        this.hear(fields);
      }
    });
    socket.addEventListener("close", () => {
      this.reading = null;
      const wait = WAITS_MS[Math.min(this.attempts, WAITS_MS.length - 1)];
      this.attempts += 1;
      window.setTimeout(() => this.connect(), wait);
    });
  }

  hear(fields) {
    if (fields.station !== this.words.station || fields.age_s === null || fields.reading_um === null) {
      return;
    }
    const came = performance.now() / 1000 - fields.age_s;
    const isNew = this.taken !== null && came > this.taken + SAME_S;
    const isFirst = this.taken === null;
    this.reading = { um: fields.reading_um, came };
    if (isFirst || isNew) {
      this.taken = came;
    }
    if (isNew) {
      this.arrived();
    }
    this.show();
  }

  arrived() {
    this.fast = this.alone !== 0 || performance.now() - (this.lastNew ?? -Infinity) < ALONE_MS;
    this.lastNew = performance.now();
    window.clearTimeout(this.alone);
    this.alone = 0;
    if (this.fast) {
      return;
    }
    const text = this.text();
    this.alone = window.setTimeout(() => {
      this.alone = 0;
      if (!document.hidden) {
        this.take(text);
      }
    }, ALONE_MS);
  }

  text() {
    return `${this.reading.um.toFixed(2)} µm`; // as it is recorded, in every language alike
  }

  shown() {
    return `${figure(this.reading.um, 2)} µm`;
  }

  age() {
    return this.reading === null ? null : performance.now() / 1000 - this.reading.came;
  }

  // What Enter in the empty box takes; null when the gauge has said nothing of late, with a sentence why.
  shown() {
    const age = this.age();
    return age !== null && age < FRESH_S ? this.text() : null;
  }

  why() {
    const age = this.age();
    return age === null ? this.words.silent : this.words.old.replace("%s", age.toFixed(0));
  }

  show() {
    const age = this.age();
    if (this.fast && performance.now() - this.lastNew > QUIET_MS) {
      this.fast = false;
    }
    const shown = this.part.querySelector("output");
    const text = age === null ? "–" : this.shown();
    if (shown.textContent !== text) {
      shown.textContent = text;
    }
    this.part.querySelector("[data-how]").textContent =
      age === null ? this.words.silent : this.fast ? this.words.stream : this.words.key;
    this.part.dataset.heard = age === null ? "no" : this.fast ? "stream" : "key";
  }
}
