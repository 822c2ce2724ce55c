"use strict";

/* What both drawings use: SVG, the marks of rows, labels that keep clear of each other. */

const SVG = "http://www.w3.org/2000/svg";
const FOOT = 0.3048, TILT_OF = Math.PI / 180;
const WITHIN_DB = 3;
const MARKS = {
  louder: "M0,-6 L5.5,4 L-5.5,4 Z",
  within: "M-4.5,0 A4.5,4.5 0 1 1 4.5,0 A4.5,4.5 0 1 1 -4.5,0 Z",
  softer: "M0,6 L5.5,-4 L-5.5,-4 Z",
  unknown: "M-4,-4 L4,-4 L4,4 L-4,4 Z",
};

const byId = (id) => document.getElementById(id);
const letter = () => parseFloat(getComputedStyle(document.documentElement).fontSize);
const minus = (text) => text.replace("-", "\u2212");
const path = (points) => `M${points.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" L")}`;

function shape(name, attributes = {}, text = "") {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text) made.textContent = text;
  return made;
}

function node(name, attributes = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

function fresh(svg, width, height) {
  svg.replaceChildren();
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("height", height);
}

/* louder, within ±3 dB, softer: told by shape first */
function mark(level) {
  if (level === null) return "unknown";
  if (level > WITHIN_DB) return "louder";
  return level < -WITHIN_DB ? "softer" : "within";
}

/* What is heard: all together, or one loudspeaker over the rows that it serves. */
function heardOf(view, heard) {
  if (heard !== "together") {
    const one = view.speakers[heard];
    return { rows: one.rows, level: one.level, figures: one.figures };
  }
  return { rows: view.drawn || view.rows.x.map((_, row) => row), level: view.level, figures: view.together };
}

function niceStep(span, most) {
  const power = 10 ** Math.floor(Math.log10(span / most));
  return [1, 2, 5, 10].map((one) => one * power).find((one) => span / one <= most);
}

/* Labels in order of weight: each takes the first of its places that is free, or is left out. */
class Labels {
  constructor(frame) {
    this.frame = frame;
    this.taken = [];
  }

  free(box) {
    const { x, y, width, height } = this.frame;
    if (box[0] < x || box[2] > x + width || box[1] < y || box[3] > y + height) return false;
    return this.taken.every((one) => box[2] <= one[0] || box[0] >= one[2] || box[3] <= one[1] || box[1] >= one[3]);
  }

  keep(box) { this.taken.push(box); }

  /* places: [x, y, anchor] of the text's baseline; size: px of its letters; always: drawn anyhow */
  put(into, text, kind, size, places, always = false) {
    const width = text.length * size * 0.58;
    for (const [x, y, anchor] of places) {
      const left = { start: x, middle: x - width / 2, end: x - width }[anchor];
      const box = [left - 2, y - size, left + width + 2, y + 0.25 * size];
      if (!this.free(box) && !(always && places.length === 1)) continue;
      this.keep(box);
      const klass = `${kind} halo${anchor === "start" ? "" : ` ${anchor}`}`;
      into.append(shape("text", { x: x.toFixed(1), y: y.toFixed(1), class: klass }, text));
      return true;
    }
    return always && places.length > 1 ? this.put(into, text, kind, size, [places[0]], true) : false;
  }
}

/* ---- what the lines and marks mean ------------------------------------ */

function drawKey(list, view, was, best = "") {
  const lines = [["axis is", "axis"], ["edge", "6 dB down"]];
  if (was) lines.push(["axis was", was]);
  if (best) lines.push(["axis ghost", best]);
  if (view.speakers.some((one) => uniformShown(view, one))) lines.push(["uniform", "as loud as the aim point"]);
  lines.push(["solid", "taken as solid"]);
  const marks = [["louder", "more than 3 dB over the mean"], ["within", "within \u00b13 dB"], ["softer", "more than 3 dB under"]];
  if (view.speakers.some((of) => of.level.some((one) => one.includes(null)))) marks.push(["unknown", "unknown"]);
  const told = JSON.stringify([lines, marks]);
  if (list.dataset.told === told) return;
  list.dataset.told = told;
  const sample = (inside, text) => {
    const svg = shape("svg", { viewBox: "0 0 34 14", width: 34, height: 14, "aria-hidden": "true" });
    svg.append(inside);
    return node("li", {}, svg, text);
  };
  list.replaceChildren(
    ...lines.map(([kind, text]) => sample(shape("path", { d: kind === "solid" ? `M1,4 H33 ${hatch([[33, 4], [1, 4]])}` : "M1,7 H33", class: kind }), text)),
    ...marks.map(([kind, text]) => sample(shape("path", { d: MARKS[kind], transform: "translate(17 7)", class: `mark ${kind}` }), text)));
}
