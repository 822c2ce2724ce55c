"use strict";

/* The section to scale, drawn from a view.

   how: width and most (px), unit, channel, heard ("together" or a loudspeaker's number), chosen
   (number), extent ([x from, x to, z from, z to] that stays while something moves); and where they
   are, was and best (views drawn behind), map.  Gives back where metres lie on the page. */

function drawSection(svg, view, how) {
  const em = letter() * 0.8, width = how.width;
  const [x0, x1, z0, z1] = how.extent, left = 2.6 * em, bottom = 2.4 * em, edge = 0.6 * em, margin = 1.6 * em;
  const scale = Math.min((width - left - edge - 2 * margin) / (x1 - x0), (how.most - 2 * margin) / (z1 - z0));
  const height = (z1 - z0) * scale + 2 * margin + bottom + edge;
  const middle = left + (width - left - edge) / 2 - (scale * (x0 + x1)) / 2;
  const to = ([x, z]) => [middle + x * scale, edge + margin + (z1 - z) * scale];
  const from = ([x, y]) => [(x - middle) / scale, z1 - (y - edge - margin) / scale];
  fresh(svg, width, height);
  const frame = { x: left, y: edge, width: width - left - edge, height: height - edge - bottom };
  const place = { to, from, scale, em, frame, labels: new Labels(frame) };
  const id = `${svg.id}-inside`, clip = shape("clipPath", { id });
  clip.append(shape("rect", frame));
  svg.append(clip);
  const inside = shape("g", { "clip-path": `url(#${id})` });
  if (how.map) inside.append(mapImage(how.map, to));
  scales(svg, place, how);
  svg.append(inside);
  house(inside, view, place);
  view.speakers.forEach((one, number) => { if (number !== how.chosen) beam(inside, view, place, one, "other"); });
  if (how.was) houseWas(inside, view, how.was, place);
  if (how.was) how.was.speakers.forEach((one) => beam(inside, how.was, place, one, "was"));
  if (how.best) beam(inside, view, place, how.best, "ghost");
  if (view.speakers[how.chosen]) beam(inside, view, place, view.speakers[how.chosen], "is");
  rowMarks(inside, view, place, how);
  names(inside, view, place, how);
  svg.append(shape("rect", { ...frame, class: "frame" }));
  return place;
}

/* What has to fit: seating, surfaces, loudspeakers and where they may hang, the datum. */
function extentOf(view) {
  const points = [[0, 0]];
  for (const seating of view.seatings) points.push(...seating.floor, ...seating.ears);
  for (const surface of view.surfaces) points.push(...surface.line);
  for (const one of view.speakers || []) {
    points.push([one.x - 0.6, one.height - 0.6], [one.x + 0.6, one.height + 0.6]);
    if (one.range) points.push([one.range.x[0], one.range.vertical[1] + 0.4], [one.range.x[1], one.range.vertical[1]]);
  }
  const xs = points.map(([x]) => x), zs = points.map(([, z]) => z);
  return [Math.min(...xs), Math.max(...xs), Math.min(...zs), Math.max(...zs)];
}

function scales(svg, { frame, to, scale, em }, how) {
  const per = how.unit === "m" ? 1 : FOOT;
  const xs = [frame.x, frame.x + frame.width], zs = [frame.y, frame.y + frame.height];
  const [ox, oz] = to([0, 0]);
  const step = niceStep(frame.width / scale / per, Math.max(3, frame.width / (4.5 * em)));
  const places = (pixels, origin, sign) => {
    const [low, high] = pixels.map((one) => (sign * (one - origin)) / scale / per / step).sort((a, b) => a - b);
    const found = [];
    for (let n = Math.ceil(low + 1e-9); n <= high - 1e-9; n += 1) found.push(n);
    return found;
  };
  const text = (n) => minus(String(Math.round(n * step * 1000) / 1000));
  for (const n of places(xs, ox, 1)) {
    const x = ox + n * step * per * scale;
    svg.append(shape("line", { x1: x, x2: x, y1: zs[0], y2: zs[1], class: "grid" }));
    svg.append(shape("text", { x, y: zs[1] + 1.1 * em, class: "tick middle" }, text(n)));
  }
  for (const n of places(zs, oz, -1)) {
    const y = oz - n * step * per * scale;
    svg.append(shape("line", { x1: xs[0], x2: xs[1], y1: y, y2: y, class: "grid" }));
    if (y > frame.y + 0.5 * em) svg.append(shape("text", { x: xs[0] - 0.3 * em, y: y + 0.3 * em, class: "tick end" }, text(n)));
  }
  svg.append(shape("text", { x: frame.x + frame.width, y: zs[1] + 2.2 * em, class: "tick end" }, `from the datum, ${how.unit}`));
}

/* Level all over the section in one quiet hue, 3 dB from tone to tone, behind everything. */
function mapImage(map, to) {
  const [columns, lines] = map.size, canvas = node("canvas", { width: columns, height: lines });
  const pen = canvas.getContext("2d"), pixels = pen.createImageData(columns, lines);
  const tint = getComputedStyle(document.documentElement).getPropertyValue("--map").split(",").map(Number);
  for (let line = 0; line < lines; line += 1) {
    for (let column = 0; column < columns; column += 1) {
      const level = map.level[(lines - 1 - line) * columns + column], at = 4 * (line * columns + column);
      const tone = level === null ? 0 : Math.max(0, Math.min(7, Math.floor((level * map.step + 15) / 3)));
      pixels.data.set([...tint, tone * 16], at);
    }
  }
  pen.putImageData(pixels, 0, 0);
  const [x0, x1, z0, z1] = map.extent, [left, top] = to([x0, z1]), [right, low] = to([x1, z0]);
  return shape("image", { href: canvas.toDataURL(), x: left, y: top, width: right - left, height: low - top, preserveAspectRatio: "none", class: "map" });
}

/* Whether the uniform-level line says anything: one loudspeaker plays, and most of the line runs over
   the floors, where somebody may sit. */
function uniformShown(view, one) {
  if (view.several || one.uniform.length < 2) return false;
  const floorAt = (x) => Math.max(...view.seatings.map(({ floor }) => (x < floor[0][0] || x > floor[floor.length - 1][0] ? -Infinity : heightAt(floor, x))));
  return one.uniform.filter(([x, z]) => z >= floorAt(x)).length > 0.5 * one.uniform.length;
}

function house(into, view, { to, from, frame, em, labels }) {
  const [, low] = from([0, frame.y + frame.height]);
  for (const top of view.solid) {
    // From right to left, so that the strokes lie on the inner side.
    const points = [[top[0][0], low], ...top, [top[top.length - 1][0], low]].reverse().map(to);
    into.append(shape("path", { d: path(points), class: "solid" }));
    into.append(shape("path", { d: hatch(points), class: "solid" }));
  }
  for (const { name, line } of view.surfaces) {
    const points = line.map(to);
    into.append(shape("path", { d: path(points), class: "surface" }));
    into.append(shape("path", { d: hatch(points), class: "hatch" }));
  }
  for (const seating of view.seatings) {
    into.append(shape("path", { d: path(seating.floor.map(to)), class: "floor" }));
    into.append(shape("path", { d: path(seating.ears.map(to)), class: "ears" }));
  }
  const [x, y] = to([0, 0]);
  into.append(shape("path", { d: `M${x - 7},${y} H${x + 7} M${x},${y - 7} V${y + 7}`, class: "datum" }));
  into.append(shape("circle", { cx: x, cy: y, r: 3.5, class: "datum" }));
  labels.put(into, "datum", "tick", 0.94 * em, [[x, y + 1.5 * em, "middle"], [x, y - 1.1 * em, "middle"], [x + em, y + 0.3 * em, "start"]]);
  for (const { name, at } of view.points || []) {
    const [px, py] = to(at);
    into.append(shape("path", { d: `M${px},${py - 5} l5,5 l-5,5 l-5,-5 Z`, class: "watched" }));
    labels.put(into, name, "tick", 0.94 * em, [[px, py + 1.6 * em, "middle"], [px, py - 0.8 * em, "middle"]]);
  }
}

/* Floors and surfaces where they were, if they are elsewhere now. */
function houseWas(into, view, was, { to }) {
  const lines = (of) => [...of.seatings.map((one) => one.floor), ...of.surfaces.map((one) => one.line)];
  const now = new Set(lines(view).map(String));
  for (const line of lines(was)) if (!now.has(String(line))) into.append(shape("path", { d: path(line.map(to)), class: "line was" }));
}

/* Short strokes on one side of a wall, as sections of buildings have them. */
function hatch(points) {
  let strokes = "";
  for (let n = 1; n < points.length; n += 1) {
    const [ax, ay] = points[n - 1], [bx, by] = points[n], long = Math.hypot(bx - ax, by - ay);
    if (long < 1) continue;
    const ux = (bx - ax) / long, uy = (by - ay) / long;
    for (let at = 3; at < long; at += 6) {
      strokes += `M${(ax + ux * at).toFixed(1)},${(ay + uy * at).toFixed(1)} l${(4.5 * (uy - 0.6 * ux)).toFixed(1)},${(-4.5 * (ux + 0.6 * uy)).toFixed(1)} `;
    }
  }
  return strokes || "M0,0";
}

/* A body whose own axes are forward and up, where it hangs; without an outline only its sign. */
function bodyOf(one, to, scale) {
  const along = (elevation, distance) => to([one.x + distance * Math.cos(elevation * TILT_OF), one.height + distance * Math.sin(elevation * TILT_OF)]);
  const flip = one.flipped ? -1 : 1, size = 8 / scale;
  const outline = one.outline || [[0, -size], [-0.8 * size, -0.5 * size], [-0.8 * size, 0.5 * size], [0, size]];
  const corners = outline.map(([u, w]) => along(one.tilt + Math.atan2(flip * w, u) / TILT_OF, Math.hypot(u, w)));
  return { along, corners, centre: to([one.x, one.height]) };
}

function beam(into, view, { to, scale, frame }, one, which) {
  const { along, corners, centre } = bodyOf(one, to, scale);
  const far = (2 * (frame.width + frame.height)) / scale;
  const reach = one.aim ? Math.hypot(one.aim[0] - one.x, one.aim[1] - one.height) : far;
  if (one.aim || which !== "other") into.append(shape("path", { d: path([centre, along(one.tilt, reach)]), class: `axis ${which}` }));
  if (which === "is") {
    for (const edge of one.edges) {
      if (edge !== null) into.append(shape("path", { d: path([centre, along(edge, far)]), class: "edge" }));
    }
    for (const line of one.shadows || []) into.append(shape("path", { d: path(line.map(to)), class: "shadow" }));
    if (uniformShown(view, one)) into.append(shape("path", { d: path(one.uniform.map(to)), class: "uniform" }));
    if (one.aim) {
      const [x, y] = to(one.aim);
      into.append(shape("path", { d: `M${x - 6},${y - 6} L${x + 6},${y + 6} M${x - 6},${y + 6} L${x + 6},${y - 6}`, class: "aim" }));
    }
  }
  if (which === "was") return;
  const kind = which === "is" ? "box" : `box ${which}`;
  into.append(shape("path", { d: `${path(corners)} Z`, class: one.outline ? kind : `${kind} sign` }));
  if (which === "is") into.append(shape("circle", { cx: centre[0], cy: centre[1], r: 2.5, class: "centre" }));
}

function rowMarks(into, view, { to, em, labels }, how) {
  const { rows, level } = heardOf(view, how.heard), left = view.rows.left || [];
  const at = (row) => to([view.rows.x[row], view.rows.z[row]]);
  const apart = rows.slice(1).reduce((least, row, place) => {
    const [ax, ay] = at(rows[place]), [bx, by] = at(row);
    return Math.min(least, Math.hypot(bx - ax, by - ay) || least);
  }, 99);
  const size = Math.max(0.45, Math.min(em / 12.8, apart / 11));
  rows.forEach((row, place) => {
    const [x, y] = at(row), kind = mark(level[how.channel][place]);
    const hollow = left[row] ? " left" : "";
    into.append(shape("path", { d: MARKS[kind], transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) scale(${size})`, class: `mark ${kind}${hollow}` }));
    labels.keep([x - 4, y - 4, x + 4, y + 4]);
  });
}

/* Words, the weightiest first; what finds no room is left out. */
function names(into, view, { to, em, labels }, how) {
  const small = 0.94 * em;
  const chosen = view.speakers[how.chosen];
  view.speakers.forEach((one, number) => {
    const [x, y] = to([one.x, one.height]), is = number === how.chosen;
    const text = view.several ? `${one.name}, ${one.text.tilt}` : one.text.tilt;
    labels.put(into, text, is ? "strong" : "tick", em, [[x + 0.9 * em, y - 0.9 * em, "start"], [x - 1.4 * em, y - 0.9 * em, "end"], [x + 1.2 * em, y + 1.9 * em, "start"], [x - 1.4 * em, y + 1.9 * em, "end"], [x, y - 2.2 * em, "middle"]], is);
  });
  if (chosen) dimensions(into, view, { to, em, labels }, how, chosen);
  const { rows } = heardOf(view, how.heard);
  rows.forEach((row, place) => {
    const before = rows[place - 1], after = rows[place + 1], own = view.rows.seating[row];
    if (place > 0 && place < rows.length - 1 && view.rows.seating[before] === own && view.rows.seating[after] === own) return;
    const [x, y] = to([view.rows.x[row], view.rows.z[row]]);
    labels.put(into, view.rows.name[row], "tick", small, [[x, y - 0.8 * em, "middle"], [x + 0.9 * em, y + 0.3 * em, "start"], [x - 0.9 * em, y + 0.3 * em, "end"]]);
  });
  for (const { name, floor } of view.seatings) {
    const points = floor.map(to), [a, b] = [points[0], points[points.length - 1]];
    const places = [0.5, 0.3, 0.7, 0.15, 0.85].flatMap((share) => {
      const x = a[0] + share * (b[0] - a[0]);
      const y = Math.max(...[x - 2 * em, x + 2 * em].map((of) => heightAt(points, of)));
      return [[x, y + 1.3 * em, "middle"], [x, y + 2.5 * em, "middle"]];
    });
    labels.put(into, name, "name", em, places);
  }
  for (const { name, line } of view.surfaces) {
    const points = line.map(to), [x, y] = [0, 1].map((of) => (points[0][of] + points[points.length - 1][of]) / 2);
    labels.put(into, name, "tick", small, [[x - 0.5 * em, y, "end"], [x + 0.5 * em, y, "start"], [x, y - 0.5 * em, "middle"], [x, y + 1.3 * em, "middle"]]);
  }
}

function heightAt(points, x) {
  for (let n = 1; n < points.length; n += 1) {
    const [[ax, ay], [bx, by]] = [points[n - 1], points[n]];
    if (x <= bx && bx > ax) return ay + ((Math.max(x, ax) - ax) / (bx - ax)) * (by - ay);
  }
  return points[points.length - 1][1];
}

/* Height over the datum and throw, at the lines that they belong to. */
function dimensions(into, view, { to, em, labels }, how, one) {
  const [x, y] = to([one.x, one.height]), [, ground] = to([0, 0]), left = x - 1.6 * em;
  const tip = y < ground ? 1 : -1;
  if (Math.abs(ground - y) > em) {
    into.append(shape("path", { d: `M${left},${y} V${ground} M${left - 3},${y + 5 * tip} L${left},${y} L${left + 3},${y + 5 * tip} M${left - 3},${ground - 5 * tip} L${left},${ground} L${left + 3},${ground - 5 * tip} M${left - 4},${y} H${x}`, class: "measure" }));
    const middle = (y + ground) / 2, text = one.text.height[how.unit];
    labels.put(into, text, "strong", em, [[left - 0.4 * em, middle, "end"], [left + 0.4 * em, middle, "start"], [left - 0.4 * em, y + 2 * em, "end"]]);
  }
  if (one.aim && one.text.throw) {
    const [tx, ty] = to([(one.x + one.aim[0]) / 2, (one.height + one.aim[1]) / 2]);
    labels.put(into, one.text.throw[how.unit], "tick", 0.94 * em, [[tx, ty - 0.7 * em, "start"], [tx, ty + 1.4 * em, "end"], [tx, ty - 2 * em, "start"]]);
  }
}
