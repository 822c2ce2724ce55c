"use strict";

/* What both drawings use: SVG, the marks of rows, and what lines and marks mean. */

const PAPER = 700, SHEET = 950;
/* px of a printed page: its width, and the height that A4 and US letter both have */
const SVG = "http://www.w3.org/2000/svg";
const FOOT = 0.3048;
const MARKS = {
  louder: "M0,-6 L5.5,4 L-5.5,4 Z",
  within: "M-4.5,0 A4.5,4.5 0 1 1 4.5,0 A4.5,4.5 0 1 1 -4.5,0 Z",
  softer: "M0,6 L5.5,-4 L-5.5,-4 Z",
  unknown: "M-4,-4 L4,-4 L4,4 L-4,4 Z",
};
const TILT_OF = Math.PI / 180;

const letter = () => parseFloat(getComputedStyle(document.documentElement).fontSize);

function shape(name, attributes = {}, text = "") {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text) made.textContent = text;
  return made;
}

const path = (points) => `M${points.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" L")}`;

function fresh(id, width, height) {
  const svg = byId(id);
  svg.replaceChildren();
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("height", height);
  return svg;
}

/* louder, within ±3 dB, softer: told by shape first */
function mark(tenths) {
  if (tenths === plan.unknown) return "unknown";
  if (tenths > 30) return "louder";
  return tenths < -30 ? "softer" : "within";
}

function niceStep(span, most) {
  const power = 10 ** Math.floor(Math.log10(span / most));
  return [1, 2, 5, 10].map((one) => one * power).find((one) => span / one <= most);
}

/* ---- what the lines and marks mean ------------------------------------ */

function drawKey() {
  const lines = [["axis is", "axis"], ["axis was", `axis of the ${ownWord()} aim`], ["edge", "coverage edge, 6 dB down"], ["uniform", "as loud as the aim point"],
    ["curve", "level, aim shown"], ["curve was", `level, ${ownWord()} aim`]];
  const marks = [["louder", "more than 3 dB over the mean"], ["within", "within \u00b13 dB"], ["softer", "more than 3 dB under"]];
  if (plan.speakers.some((one) => one.turned.some((two) => two.alone.level.values.includes(plan.unknown)))) marks.push(["unknown", "unknown"]);
  const sample = (inside, text) => {
    const svg = shape("svg", { viewBox: "0 0 34 14", width: 34, height: 14, "aria-hidden": "true" });
    svg.append(inside);
    const item = document.createElement("li");
    item.append(svg, text);
    return item;
  };
  byId("key").replaceChildren(
    ...lines.map(([kind, text]) => sample(shape("path", { d: "M1,7 H33", class: kind }), text)),
    ...marks.map(([kind, text]) => sample(shape("path", { d: MARKS[kind], transform: "translate(17 7)", class: `mark ${kind}` }), text)));
}
