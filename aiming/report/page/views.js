"use strict";

/* Views made from the tables: the plain values that the drawings want, for one place. */

const heardNow = () => (now.heard === "together" ? "together" : now.speaker);
const inTenths = (value) => (value === plan.unknown ? null : value / 10);

/* place: of the loudspeaker that is chosen; the others are where the answer has them. */
function viewOf(place, alone = false) {
  const speakers = plan.speakers.map((one, number) => speakerView(one, number === now.speaker ? place : one.at));
  const together = speaker().turned[place.orientation].together;
  return {
    ...plan.house, rows: plan.rows, several: plan.speakers.length > 1,
    speakers: alone ? [speakers[now.speaker]] : speakers,
    drawn: together ? together.rows : null,
    level: together ? levelsOf(together, place, together.rows) : plan.channels.map(() => plan.rows.x.map(() => null)),
    together: null,
  };
}

/* By channel and row. */
function levelsOf(table, place, rows) {
  return plan.channels.map((_, channel) => rows.map((_row, at) => inTenths(look(table.level, channel, at, place.vertical, place.tilt))));
}

function speakerView(one, place) {
  const found = one.turned[place.orientation], row = found.heightM[place.vertical];
  const height = row[Math.min(place.tilt, row.length - 1)], tilt = one.tilt[place.tilt];
  const throwTo = look(found.throw.m, place.vertical, place.tilt);
  const along = (off, distance) => [one.x + distance * Math.cos((tilt + off) * TILT_OF), height + distance * Math.sin((tilt + off) * TILT_OF)];
  const points = [];
  if (throwTo !== plan.unknown) {
    const count = found.line.shape[0], end = look(found.lineEnd, place.vertical, place.tilt) / 10;
    for (let n = 0; n < count; n += 1) {
      const distance = look(found.line, n, place.vertical, place.tilt);
      if (distance !== plan.unknown) points.push(along((n / (count - 1)) * end, distance / 100));
    }
  }
  const text = (both) => lengthText(look(both[now.unit], place.vertical, place.tilt), now.unit);
  return {
    name: one.name, x: one.x, height, tilt, flipped: found.orientation === "flipped", outline: one.outline,
    aim: throwTo === plan.unknown ? null : along(0, throwTo / 100),
    edges: found.edges.map((edge) => (edge === null ? null : tilt + edge)),
    uniform: points, rows: found.alone.rows, level: levelsOf(found.alone, place, found.alone.rows), figures: null,
    text: {
      tilt: one.tiltText[place.tilt], height: { [now.unit]: text(found.height) },
      throw: throwTo === plan.unknown ? null : { [now.unit]: text(found.throw) },
    },
  };
}
