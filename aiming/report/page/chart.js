"use strict";

/* Level by row under the section. */

function drawChart(given) {
  const width = given || byId("chart").parentElement.clientWidth, em = letter() * 0.8;
  const height = given ? 15 * letter() : Math.max(12 * em, Math.min(0.3 * window.innerHeight, 20 * em));
  const svg = fresh("chart", width, height), found = heard(), rows = found.rows;
  const left = 2.6 * em, right = width - 0.6 * em, top = 0.6 * em, bottom = height - 2.6 * em;
  const [low, high] = span(found);
  const y = (tenths) => bottom - ((Math.min(high, Math.max(low, tenths)) - low) / (high - low)) * (bottom - top);
  const gaps = rows.map((row, place) => (place && plan.rows.seating[row] !== plan.rows.seating[rows[place - 1]] ? 1 : 0));
  let shift = 0;
  const order = rows.map((_, place) => { shift += gaps[place]; return place + shift; });
  const last = Math.max(1, order[order.length - 1]);
  const x = (place) => left + em + (order[place] / last) * (right - left - 2 * em);
  svg.append(shape("rect", { x: left, y: y(30), width: right - left, height: y(-30) - y(30), class: "even" }));
  for (let level = Math.ceil(low / 30) * 30; level <= high; level += 30) {
    svg.append(shape("line", { x1: left, x2: right, y1: y(level), y2: y(level), class: Math.abs(level) === 30 ? "grid three" : "grid" }));
    svg.append(shape("text", { x: left - 0.3 * em, y: y(level) + 0.3 * em, class: "tick end" }, minus(`${level > 0 ? "+" : ""}${level / 10}`)));
  }
  const aim = at(turned().aimLevel);
  if (now.heard === "alone" && now.channel === 0 && aim !== plan.unknown) {
    svg.append(shape("line", { x1: left, x2: right, y1: y(aim), y2: y(aim), class: "uniform" }));
  }
  const own = speaker().at;
  const curve = (level) => rows.map((_, place) => [place, level(place)]);
  const parts = (points) => points.reduce((runs, [place, level]) => {
    if (level === plan.unknown || gaps[place]) runs.push([]);
    if (level !== plan.unknown) runs[runs.length - 1].push([x(place), y(level)]);
    return runs;
  }, [[]]).filter((run) => run.length > 1);
  if (!isOwn()) {
    const was = speaker().turned[own.orientation][now.heard].level;
    for (const run of parts(curve((place) => look(was, now.channel, place, own.vertical, own.tilt)))) svg.append(shape("path", { d: path(run), class: "curve was" }));
  }
  const is = curve((place) => at(found.level, now.channel, place));
  for (const run of parts(is)) svg.append(shape("path", { d: path(run), class: "curve" }));
  for (const [place, level] of is) {
    const kind = mark(level), size = Math.max(0.45, Math.min(em / 12.8, (right - left) / last / 12));
    svg.append(shape("path", { d: MARKS[kind], transform: `translate(${x(place).toFixed(1)} ${(kind === "unknown" ? y(0) : y(level)).toFixed(1)}) scale(${size})`, class: `mark ${kind}` }));
  }
  chartNames(svg, rows, x, bottom, em);
  svg.append(shape("rect", { x: left, y: top, width: right - left, height: bottom - top, class: "frame" }));
  const spread = at(found.spread, now.channel);
  byId("chart-words").textContent = spread === plan.unknown ? "The level of some rows is unknown." :
    `${plan.channels[now.channel]}: spread ${dbText(spread, plan.unknown)}, loudest ${label(found.loudest, now.channel)}, softest ${label(found.softest, now.channel)}.`;
}

/* A scale that stays while sliders move: the own aim's curve, and room to go wrong. */
function span(found) {
  const own = speaker().at, table = speaker().turned[own.orientation][now.heard].level;
  let low = -120, high = 90;
  found.rows.forEach((_, place) => {
    const level = look(table, now.channel, place, own.vertical, own.tilt);
    if (level === plan.unknown) return;
    low = Math.min(low, Math.floor((level - 10) / 30) * 30);
    high = Math.max(high, Math.ceil((level + 10) / 30) * 30);
  });
  return [low, high];
}

function chartNames(svg, rows, x, bottom, em) {
  const longest = Math.max(...rows.map((row) => plan.rows.name[row].length));
  let free = -Infinity;
  rows.forEach((row, place) => {
    const ends = place === rows.length - 1, here = x(place), half = (longest * em * 0.6) / 2;
    if (here - half < free || (!ends && here + 3 * half > x(rows.length - 1))) return;
    free = here + half + 0.3 * em;
    svg.append(shape("text", { x: here, y: bottom + 1.1 * em, class: "tick middle" }, plan.rows.name[row]));
  });
  plan.seatings.forEach((seating, number) => {
    const places = rows.map((row, place) => [row, place]).filter(([row]) => plan.rows.seating[row] === number).map(([, place]) => place);
    if (!places.length) return;
    const middle = (x(places[0]) + x(places[places.length - 1])) / 2;
    svg.append(shape("text", { x: middle, y: bottom + 2.2 * em, class: "name middle" }, seating.name));
  });
}
