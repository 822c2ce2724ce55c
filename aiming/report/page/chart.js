"use strict";

/* Level by row about the mean over the rows, drawn from a view; how: as for the section, and span,
   [lowest, highest] in dB, where the scale is to stay. */

function drawChart(svg, view, how) {
  const { rows, level } = heardOf(view, how.heard), width = how.width, em = letter() * 0.8;
  const height = how.chart || Math.max(150, Math.min(240, 0.26 * window.innerHeight));
  fresh(svg, width, height);
  const left = 2.6 * em, right = width - 0.6 * em, top = 0.6 * em, bottom = height - 2.6 * em;
  const seat = (place) => view.rows.seating[rows[place]];
  const gaps = rows.map((_, place) => place > 0 && seat(place) !== seat(place - 1));
  const slots = [];
  gaps.reduce((at, gap, place) => { slots.push(at + (gap ? 1 : 0)); return slots[place] + 1; }, 0);
  const last = Math.max(1, slots[slots.length - 1]);
  const [low, high] = how.span || spanOf(view, how);
  const x = (place) => left + ((slots[place] + 0.5) / (last + 1)) * (right - left);
  const y = (db) => bottom - ((Math.max(low, Math.min(high, db)) - low) / (high - low)) * (bottom - top);
  svg.append(shape("rect", { x: left, y: y(WITHIN_DB), width: right - left, height: y(-WITHIN_DB) - y(WITHIN_DB), class: "even" }));
  for (let db = Math.ceil(low / 3) * 3; db <= high; db += 3) {
    svg.append(shape("line", { x1: left, x2: right, y1: y(db), y2: y(db), class: Math.abs(db) === WITHIN_DB ? "three" : "grid" }));
    svg.append(shape("text", { x: left - 0.3 * em, y: y(db) + 0.3 * em, class: "tick end" }, minus(db > 0 ? `+${db}` : String(db))));
  }
  const runs = (values) => values.reduce((found, value, place) => {
    if (value === null || gaps[place]) found.push([]);
    if (value !== null) found[found.length - 1].push([x(place), y(value)]);
    return found;
  }, [[]]).filter((run) => run.length > 1);
  if (how.was) {
    const was = heardOf(how.was, how.heard);
    if (was.rows.length === rows.length) {
      for (const run of runs(was.level[how.channel])) svg.append(shape("path", { d: path(run), class: "curve was" }));
    }
  }
  const own = level[how.channel], sheer = view.rows.left || [];
  for (const run of runs(own)) svg.append(shape("path", { d: path(run), class: "curve" }));
  const size = Math.max(0.45, Math.min(em / 12.8, (right - left) / last / 12));
  own.forEach((value, place) => {
    const kind = mark(value), hollow = sheer[rows[place]] ? " left" : "";
    svg.append(shape("path", { d: MARKS[kind], transform: `translate(${x(place).toFixed(1)} ${y(value === null ? 0 : value).toFixed(1)}) scale(${size})`, class: `mark ${kind}${hollow}` }));
  });
  chartNames(svg, view, rows, x, bottom, em);
  svg.append(shape("rect", { x: left, y: top, width: right - left, height: bottom - top, class: "frame" }));
}

/* A scale that holds the curve, in whole threes, with room to go wrong. */
function spanOf(view, how) {
  let low = -12, high = 9;
  for (const value of heardOf(view, how.heard).level[how.channel]) {
    if (value === null) continue;
    low = Math.max(-30, Math.min(low, Math.floor((value - 1) / 3) * 3));
    high = Math.min(30, Math.max(high, Math.ceil((value + 1) / 3) * 3));
  }
  return [low, high];
}

function chartNames(svg, view, rows, x, bottom, em) {
  const longest = Math.max(...rows.map((row) => view.rows.name[row].length));
  let free = -Infinity;
  rows.forEach((row, place) => {
    const ends = place === rows.length - 1, here = x(place), half = (longest * em * 0.6) / 2;
    if (here - half < free || (!ends && here + 3 * half > x(rows.length - 1))) return;
    free = here + half + 0.3 * em;
    svg.append(shape("text", { x: here, y: bottom + 1.1 * em, class: "tick middle" }, view.rows.name[row]));
  });
  let end = -Infinity;
  view.seatings.forEach((seating, number) => {
    const places = rows.map((row, place) => [row, place]).filter(([row]) => view.rows.seating[row] === number).map(([, place]) => place);
    if (!places.length) return;
    const middle = (x(places[0]) + x(places[places.length - 1])) / 2, half = seating.name.length * em * 0.3;
    if (middle - half < end) return;
    end = middle + half;
    svg.append(shape("text", { x: middle, y: bottom + 2.2 * em, class: "name middle" }, seating.name));
  });
}
