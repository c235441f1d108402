// Makes the drawings on a page lively: values under the pointer or the arrow keys, a part looked at closer,
// logarithmic or linear, laid out again when there is less room.  The server lays out; the library draws.
import { ask } from "./page.js";

const root = document.documentElement;
let library;

function loaded() {
  library ??= new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = new URL("vega.js", import.meta.url);
    script.onload = resolve;
    script.onerror = reject;
    document.head.append(script);
  });
  return library;
}

class Chart {
  constructor(figure) {
    this.figure = figure;
    this.drawing = figure.querySelector("[data-drawing]");
    this.reading = figure.querySelector("[data-reading]");
    this.image = figure.querySelector("img");
    this.ratio = Math.max(160, this.image.height);
    this.part = {};
    this.log = null;
    this.at = -1;
  }

  async begin() {
    await this.lay();
    this.drawing.tabIndex = 0;
    this.drawing.setAttribute("role", "img");
    this.drawing.setAttribute("aria-label", `${this.image.alt} Arrow keys tell the values.`);
    this.listen();
    new ResizeObserver(() => this.resized()).observe(this.drawing);
  }

  /** Ask for the chart as it is now wanted, and draw it. */
  async lay() {
    this.width = Math.max(200, Math.floor(this.drawing.clientWidth));
    const wanted = new URLSearchParams({ width: this.width, height: this.width < 600 ? 320 : this.ratio });
    if (this.log === false) wanted.set("log", "false");
    if (this.part.from !== undefined) { wanted.set("from", this.part.from); wanted.set("to", this.part.to); }
    const said = await ask(`${this.figure.dataset.chart}.json?${wanted}`);
    const place = document.createElement("div");
    const made = await window.vegaEmbed(place, said.spec, {
      ast: true, actions: false, defaultStyle: false, tooltip: false, renderer: "svg", mode: "vega-lite", hover: false, logLevel: 1,
    });
    place.querySelector("svg").setAttribute("aria-hidden", "true");
    place.querySelectorAll("[role],[aria-label],[aria-roledescription]").forEach((part) => {
      for (const name of ["role", "aria-label", "aria-roledescription"]) part.removeAttribute(name);
    });
    this.view?.finalize();
    this.view = made.view;
    this.readings = said.readings;
    this.at = -1;
    this.drawing.replaceChildren(place);
    this.button("[data-whole]", (whole) => { whole.disabled = said.whole; });
    this.figure.classList.add("lively");
  }

  button(which, change) { this.figure.querySelectorAll(which).forEach(change); }

  resized() {
    if (Math.abs(this.drawing.clientWidth - this.width) < 16) return;
    clearTimeout(this.later);
    this.later = setTimeout(() => this.lay(), 150);
  }

  listen() {
    this.drawing.addEventListener("pointermove", (event) => this.tell(this.nearest(event)));
    this.drawing.addEventListener("pointerdown", (event) => this.drag(event));
    this.drawing.addEventListener("keydown", (event) => {
      const steps = { ArrowRight: 1, ArrowLeft: -1, Home: -Infinity, End: Infinity };
      if (!(event.key in steps)) return;
      event.preventDefault();
      this.tell(Math.min(this.readings.length - 1, Math.max(0, this.at + steps[event.key])));
    });
    this.button("[data-show]", (button) => button.addEventListener("click", () => this.show(button.dataset.show)));
    this.button("[data-scale]", (button) => button.addEventListener("click", () => {
      this.log = this.log === false ? null : false;
      button.setAttribute("aria-pressed", String(this.log !== false));
      this.lay();
    }));
    this.button("[data-whole]", (button) => button.addEventListener("click", () => { this.part = {}; this.lay(); }));
    this.figure.querySelector("[data-table]").hidden = true;
  }

  show(which) {
    const table = this.figure.querySelector("[data-table]");
    table.hidden = which !== "table";
    table.open = which === "table";
    this.drawing.hidden = this.reading.hidden = which === "table";
    this.button("[data-show]", (button) => button.setAttribute("aria-pressed", String(button.dataset.show === which)));
  }

  /** Value of the first axis under the pointer. */
  value(event) {
    const box = this.drawing.querySelector("svg").getBoundingClientRect();
    const shift = this.view.origin()[0] + this.view.padding().left;
    return this.view.scale("x").invert((event.clientX - box.left) * (this.width / box.width) - shift);
  }

  nearest(event) {
    const scale = this.view.scale("x");
    const place = scale(this.value(event));
    let best = -1;
    let least = Infinity;
    this.readings.forEach((reading, number) => {
      const off = Math.abs(scale(reading.x) - place);
      if (off < least) [best, least] = [number, off];
    });
    return best;
  }

  tell(number) {
    if (number < 0 || number === this.at) return;
    this.at = number;
    const reading = this.readings[number];
    this.reading.textContent = reading.said;
    const shift = [this.view.origin()[0] + this.view.padding().left, this.view.origin()[1] + this.view.padding().top];
    const svg = this.drawing.querySelector("svg");
    svg.querySelector(".pointed")?.remove();
    const ring = document.createElementNS("http://www.w3.org/2000/svg", "circle");
    const places = { cx: this.view.scale("x")(reading.x) + shift[0], cy: this.view.scale("y")(reading.y) + shift[1], r: 8 };
    for (const [name, place] of Object.entries(places)) ring.setAttribute(name, place);
    ring.setAttribute("class", "pointed");
    svg.append(ring);
  }

  /** A part drawn over with the mouse or a pen is looked at closer; a finger scrolls. */
  drag(event) {
    if (event.pointerType === "touch" || event.button !== 0) return;
    const box = this.drawing.getBoundingClientRect();
    const begun = { x: event.clientX, value: this.value(event) };
    const shade = document.createElement("div");
    shade.className = "drag";
    this.drawing.append(shade);
    this.drawing.setPointerCapture(event.pointerId);
    const move = (moved) => {
      shade.style.left = `${Math.min(begun.x, moved.clientX) - box.left}px`;
      shade.style.width = `${Math.abs(moved.clientX - begun.x)}px`;
    };
    const end = (ended) => {
      this.drawing.removeEventListener("pointermove", move);
      shade.remove();
      if (Math.abs(ended.clientX - begun.x) > 12) this.closer(begun.value, this.value(ended));
    };
    this.drawing.addEventListener("pointermove", move);
    this.drawing.addEventListener("pointerup", end, { once: true });
    this.drawing.addEventListener("pointercancel", () => shade.remove(), { once: true });
  }

  async closer(a, b) {
    const before = this.part;
    this.part = { from: Math.min(a, b), to: Math.max(a, b) };
    try {
      await this.lay();
    } catch (problem) {
      this.part = before;
      this.reading.textContent = problem.faults?.[0]?.problem ?? "It could not be drawn.";
    }
  }
}

export async function begin(within = document) {
  const figures = [...within.querySelectorAll("[data-chart]")];
  await loaded();
  root.classList.add("has-script");
  await Promise.all(figures.map((figure) => new Chart(figure).begin()));
  root.dataset.charts = "ready";
}
