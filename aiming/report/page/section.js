"use strict";

/* The section to scale, with everything that moves in it. */

function drawSection(given) {
  const width = given || byId("section").parentElement.clientWidth, em = letter() * 0.8;
  const [x0, x1, z0, z1] = plan.extent, left = 2.6 * em, bottom = 2.4 * em, edge = 0.6 * em;
  const most = given ? 26 * letter() : Math.max(170, Math.min(0.46 * window.innerHeight, 460));
  const margin = 1.6 * em;
  const scale = Math.min((width - left - edge - 2 * margin) / (x1 - x0), (most - 2 * margin) / (z1 - z0));
  const height = (z1 - z0) * scale + 2 * margin + bottom + edge;
  const middle = left + (width - left - edge) / 2 - (scale * (x0 + x1)) / 2;
  const to = ([x, z]) => [middle + x * scale, edge + margin + (z1 - z) * scale];
  const svg = fresh("section", width, height);
  const frame = { x: left, y: edge, width: width - left - edge, height: height - edge - bottom };
  const clip = shape("clipPath", { id: "inside" });
  clip.append(shape("rect", frame));
  svg.append(clip);
  scales(svg, frame, to, scale, em);
  const inside = shape("g", { "clip-path": "url(#inside)" });
  svg.append(inside);
  house(inside, to, em);
  others(inside, to, scale);
  if (!isOwn()) beam(inside, to, scale, speaker().at, "was");
  beam(inside, to, scale, now, "is");
  rowMarks(inside, to, em);
  dimensions(inside, to, em, frame);
  svg.append(shape("rect", { ...frame, class: "frame" }));
  const found = turned();
  byId("section-words").textContent = `${speaker().name}: ${speaker().tiltText[now.tilt]}, acoustic centre ${length(found.height)} above the datum; ${at(found.aimRow) === plan.unknown ? "the axis meets no seating that it serves" : `the axis meets the ears of ${label(found.aimRow)}, ${length(found.throw)} away`}.`;
}

function scales(svg, frame, to, scale, em) {
  const per = now.unit === "m" ? 1 : FOOT;
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
  svg.append(shape("text", { x: frame.x + frame.width, y: zs[1] + 2.2 * em, class: "tick end" },
    `from the datum, ${now.unit}`));
}

function house(into, to, em) {
  for (const line of plan.surfaces) into.append(shape("path", { d: path(line.map(to)), class: "surface" }));
  for (const seating of plan.seatings) {
    const floor = seating.floor.map(to);
    into.append(shape("path", { d: path(floor), class: "floor" }));
    into.append(shape("path", { d: path(seating.ears.map(to)), class: "ears" }));
    const [a, b] = [floor[0], floor[floor.length - 1]];
    const middle = floor.reduce((best, one) => (Math.abs(one[0] - (a[0] + b[0]) / 2) < Math.abs(best[0] - (a[0] + b[0]) / 2) ? one : best));
    const y = floor.length > 2 ? middle[1] : (a[1] + b[1]) / 2;
    const drop = b[0] > a[0] ? (Math.abs(b[1] - a[1]) / (b[0] - a[0])) * seating.name.length * 0.3 * em : 0;
    into.append(shape("text", { x: (a[0] + b[0]) / 2, y: y + 1.15 * em + drop, class: "name middle halo" }, seating.name));
  }
  const [x, y] = to([0, 0]);
  into.append(shape("path", { d: `M${x - 7},${y} H${x + 7} M${x},${y - 7} V${y + 7}`, class: "datum" }));
  into.append(shape("circle", { cx: x, cy: y, r: 3.5, class: "datum" }));
  into.append(shape("text", { x, y: y + 1.5 * em, class: "tick middle halo" }, "datum"));
}

/* A body whose own axes are forward and up, where it hangs. */
function body(one, place, to, scale) {
  const found = one.turned[place.orientation];
  const row = found.heightM[place.vertical];
  const centre = [one.x, row[Math.min(place.tilt, row.length - 1)]], tilt = one.tilt[place.tilt];
  const along = (off, distance) => {
    const angle = (tilt + off) * TILT_OF;
    return to([centre[0] + distance * Math.cos(angle), centre[1] + distance * Math.sin(angle)]);
  };
  const flip = found.orientation === "flipped" ? -1 : 1;
  const corner = ([u, w]) => along(Math.atan2(flip * w, u) / TILT_OF, Math.hypot(u, w));
  const size = 16 / scale;
  const outline = one.outline || [[0, -size], [-0.6 * size, -size / 2], [-0.6 * size, size / 2], [0, size]];
  return { found, along, outline: outline.map(corner), centre: to(centre) };
}

function beam(into, to, scale, place, which) {
  const one = speaker(), { found, along, outline, centre } = body(one, place, to, scale);
  const far = 3 * (plan.extent[1] - plan.extent[0] + plan.extent[3] - plan.extent[2]);
  const throwTo = look(found.throw.m, place.vertical, place.tilt);
  const reach = throwTo === plan.unknown ? far : throwTo / 100;
  into.append(shape("path", { d: path([centre, along(0, reach)]), class: `axis ${which}` }));
  if (which === "was") return;
  for (const edge of found.edges) {
    if (edge !== null) into.append(shape("path", { d: path([centre, along(edge, far)]), class: "edge" }));
  }
  if (throwTo !== plan.unknown) {
    const count = found.line.shape[0], end = look(found.lineEnd, place.vertical, place.tilt) / 10, points = [];
    for (let n = 0; n < count; n += 1) {
      const distance = look(found.line, n, place.vertical, place.tilt);
      if (distance !== plan.unknown) points.push(along((n / (count - 1)) * end, distance / 100));
    }
    if (points.length > 1) into.append(shape("path", { d: path(points), class: "uniform" }));
    const [x, y] = along(0, reach);
    into.append(shape("path", { d: `M${x - 6},${y - 6} L${x + 6},${y + 6} M${x - 6},${y + 6} L${x + 6},${y - 6}`, class: "aim" }));
  }
  into.append(shape("path", { d: `${path(outline)} Z`, class: "box" }));
  into.append(shape("circle", { cx: centre[0], cy: centre[1], r: 2.5, class: "centre" }));
}

/* The loudspeakers that are not moved, where the answer has them. */
function others(into, to, scale) {
  plan.speakers.forEach((one, number) => {
    if (number === now.speaker) return;
    const { found, along, outline, centre } = body(one, one.at, to, scale);
    const throwTo = look(found.throw.m, one.at.vertical, one.at.tilt);
    if (throwTo !== plan.unknown) into.append(shape("path", { d: path([centre, along(0, throwTo / 100)]), class: "axis other" }));
    into.append(shape("path", { d: `${path(outline)} Z`, class: "box other" }));
  });
}

function rowMarks(into, to, em) {
  const found = heard(), rows = found.rows;
  const apart = Math.abs(to([1, 0])[0] - to([0, 0])[0]) * Math.min(...rows.slice(1).map((row, place) =>
    Math.hypot(plan.rows.x[row] - plan.rows.x[rows[place]], plan.rows.z[row] - plan.rows.z[rows[place]])), 9);
  const size = Math.max(0.45, Math.min(em / 12.8, apart / 11));
  rows.forEach((row, place) => {
    const [x, y] = to([plan.rows.x[row], plan.rows.z[row]]);
    const kind = mark(at(found.level, now.channel, place));
    into.append(shape("path", { d: MARKS[kind], transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) scale(${size})`, class: `mark ${kind}` }));
    if (place === 0 || place === rows.length - 1 || plan.rows.seating[rows[place - 1]] !== plan.rows.seating[row] || plan.rows.seating[rows[place + 1]] !== plan.rows.seating[row]) {
      into.append(shape("text", { x, y: y - 0.8 * em, class: "tick middle halo" }, plan.rows.name[row]));
    }
  });
}

/* Height above the datum, tilt and throw, at the lines that they belong to. */
function dimensions(into, to, em, frame) {
  const { centre, along, found, outline } = body(speaker(), now, to, 1);
  const back = Math.min(centre[0], ...(speaker().outline ? outline.map(([x]) => x) : [centre[0] - 16])) - 0.9 * em;
  const x = Math.max(frame.x + 0.5 * em, back), ground = to([0, 0])[1];
  if (Math.abs(ground - centre[1]) > 2.5 * em) {
    into.append(shape("path", { d: `M${x},${centre[1]} V${ground} M${x - 4},${centre[1]} h8 M${x - 4},${ground} h8`, class: "measure" }));
    const middle = (ground + centre[1]) / 2, beside = x + (x - frame.x > 1.4 * em ? -0.4 : 1.1) * em;
    into.append(shape("text", { x: beside, y: middle, class: "name middle halo", transform: `rotate(-90 ${beside} ${middle})` }, length(found.height)));
  }
  const tilt = speaker().tiltText[now.tilt];
  into.append(shape("text", { x: centre[0] + 0.8 * em, y: Math.max(frame.y + 1.1 * em, centre[1] - 1.1 * em), class: "name strong halo" }, tilt));
  const throwTo = at(found.throw.m);
  if (throwTo === plan.unknown) return;
  const [mx, my] = along(0, (0.55 * throwTo) / 100);
  const angle = -speaker().tilt[now.tilt];
  if (Math.abs(angle) < 60 && (throwTo / 100) * Math.hypot(along(0, 1)[0] - centre[0], along(0, 1)[1] - centre[1]) > 14 * em) {
    into.append(shape("text", { x: mx, y: my - 0.45 * em, class: "name middle halo", transform: `rotate(${angle} ${mx} ${my})` }, `throw ${length(found.throw)}`));
  }
}
