"use strict";

/* Unpacks the figures that the tool computed beforehand, and writes them as the tool does. */

const INCH_PARTS = 8;

async function readPlan(text) {
  const packed = Uint8Array.from(atob(text.trim()), (one) => one.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
  const size = new DataView(bytes.buffer).getUint32(0, true);
  const plan = JSON.parse(new TextDecoder().decode(bytes.subarray(4, 4 + size)));
  const tables = readTables(plan.tables, bytes, 4 + size);
  return withTables(plan, tables, plan.hole);
}

/* Each table: planes of bytes, zigzag, differences along the last axis. */
function readTables({ shapes, planes }, bytes, start) {
  let at = start;
  return shapes.map((shape, number) => {
    const count = shape.reduce((product, one) => product * one, 1);
    const run = shape[shape.length - 1];
    const values = new Float64Array(count);
    let first = 0, value = 0;
    for (let i = 0; i < count; i += 1) {
      let zigzag = 0;
      for (let plane = planes[number] - 1; plane >= 0; plane -= 1) {
        zigzag = zigzag * 256 + bytes[at + plane * count + i];
      }
      const step = zigzag % 2 ? -(zigzag + 1) / 2 : zigzag / 2;
      if (i % run === 0) first += step;
      value = i % run === 0 ? first : value + step;
      values[i] = value;
    }
    at += planes[number] * count;
    return { shape, values };
  });
}

/* A table that has a unit holds exact numbers; a hole among them is unknown. */
function withTables(node, tables, hole) {
  if (node === null || typeof node !== "object") return node;
  if ("table" in node) {
    const { shape, values } = tables[node.table];
    if (!node.unit) return { shape, values };
    return { shape, values: values.map((one) => (one === hole ? NaN : one * node.unit)) };
  }
  for (const name of Object.keys(node)) {
    if (name !== "tables") node[name] = withTables(node[name], tables, hole);
  }
  return node;
}

/* The value of a table at an index for each of its axes. */
function look({ shape, values }, ...index) {
  return values[index.reduce((at, one, axis) => at * shape[axis] + one, 0)];
}

const decimals = (whole, places) => (whole / 10 ** places).toFixed(places);

function dbText(value, signed = false) {
  if (!Number.isFinite(value)) return "unknown";
  const text = value.toFixed(1).replace(/^-0\.0$/, "0.0");
  return `${minus(signed && Number(text) > 0 ? `+${text}` : text)} dB`;
}

function lengthText(whole, unit) {
  if (unit === "m") return `${decimals(whole, 2)} m`;
  const parts = Math.abs(whole), inches = Math.floor(parts / INCH_PARTS);
  let fraction = parts % INCH_PARTS, below = INCH_PARTS;
  while (fraction && fraction % 2 === 0) { fraction /= 2; below /= 2; }
  const feet = Math.floor(inches / 12), left = inches % 12;
  const small = fraction ? `${left} ${fraction}/${below}` : `${left}`;
  return `${whole < 0 ? "-" : ""}${feet} ft ${small} in`;
}

function massText(point, unit, ...index) {
  return minus(`${decimals(look(point.mass[unit], ...index), 1)} ${unit === "m" ? "kg" : "lb"}`);
}
