"use strict";

/* Views made from what the page knows: the plain values that the drawings want. */

const numbersOr = (value) => (Number.isFinite(value) ? value : null);

/* ats: where every loudspeaker is; found: what is heard there. */
function viewOf(ats, found) {
  const left = plan.rows.name.map((_, row) => found.left.has(row));
  return {
    ...plan.house, several: plan.speakers.length > 1, together: null,
    rows: { ...plan.rows, x: plan.rows.x.values, z: plan.rows.z.values, left },
    speakers: plan.speakers.map((one, number) => speakerView(one, ats[number], found.alone[number])),
    drawn: found.together ? found.together.shown : null,
    level: found.together ? rounded(found.together.about) : [],
  };
}

/* To the tenth, as they are printed: a mark and its figure never differ. */
const rounded = (channels) => channels.map((levels) => levels.map((level) => numbersOr(Number(level.toFixed(1)))));

function speakerView(one, at, alone) {
  const found = one.turned[at.orientation], { x, height, tilt } = placeOf(one, at);
  const there = (table, ...before) => look(table, ...before, at.x, at.vertical, at.tilt);
  const throwTo = there(found.throw.m);
  const along = (off, distance) => [x + distance * Math.cos((tilt + off) * TILT_OF), height + distance * Math.sin((tilt + off) * TILT_OF)];
  const points = [];
  if (throwTo !== plan.unknown) {
    const count = found.line.shape[0], end = there(found.lineEnd) / 10;
    for (let n = 0; n < count; n += 1) {
      const distance = there(found.line, n);
      if (distance !== plan.unknown) points.push(along((n / (count - 1)) * end, distance / 100));
    }
  }
  const text = (both) => lengthText(there(both[now.unit]), now.unit);
  return {
    name: one.name, x, height, tilt, flipped: found.orientation === "flipped", outline: one.outline,
    aim: throwTo === plan.unknown ? null : along(0, throwTo / 100),
    edges: found.edges.map((edge) => (edge === null ? null : tilt + edge)),
    uniform: points, rows: alone.shown, level: rounded(alone.about), figures: null,
    text: {
      tilt: one.tiltText[at.tilt], height: { [now.unit]: text(found.height) },
      throw: throwTo === plan.unknown ? null : { [now.unit]: text(found.throw) },
    },
  };
}
