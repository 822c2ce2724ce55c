"use strict";

/* The section under the hand: what is dragged or typed is asked, the newest answer is drawn. */

const KEY = "aiming-key", REST_MS = 40, EXPLAIN_MS = 300, ALIVE_MS = 20000, SLOP_PX = 3;
const STEP = { plain: 0.1, large: 1, fine: 0.01 };
const here = {
  key: "", page: "", number: 0, view: null, document: null, map: null, cautions: [], pinned: [],
  chosen: 0, channel: 0, heard: null, unit: null, kept: null, extent: null, span: null,
  held: null, stale: true, place: null, asking: false, waiting: null, none: null, choices: [], open: new Set(),
  proof: "", handles: [], handle: null, before: {},
};
const timers = { rest: 0, explain: 0 };

/* ---- asking ----------------------------------------------------------- */

async function ask(name, body = {}) {
  const reply = await fetch(`/${name}`, {
    method: "POST", cache: "no-store", credentials: "omit",
    headers: { "Content-Type": "application/json", "X-Aiming-Key": here.key },
    body: JSON.stringify({ page: here.page, ...body }),
  });
  const told = await reply.json();
  if (reply.status === 409) { shut("Another page has this house open now. Load this one again to take it back."); throw new Error("elsewhere"); }
  if (reply.status === 403) { shut("The key is missing. Open the address that the terminal printed."); throw new Error("no key"); }
  return { ...told, status: reply.status };
}

function shut(why) {
  byId("shut").hidden = false;
  byId("live").hidden = true;
  byId("shut-why").textContent = why;
}

/* Where a loudspeaker was before it was put elsewhere by hand, for as long as nothing else changes. */
function remember(edits) {
  for (const one of edits) {
    if (one.edit !== "pin" && one.edit !== "turn") here.before = {};
    else if (!here.pinned.includes(one.speaker) && !here.before[one.speaker]) here.before[one.speaker] = here.view.speakers.find((of) => of.name === one.speaker);
  }
}

/* One question unanswered at most; of those that come meanwhile only the newest waits. */
async function change(edits, held = null) {
  remember(edits);
  if (here.asking) {
    const merged = here.waiting && !sameThing(here.waiting.edits, edits) ? [...here.waiting.edits, ...edits] : edits;
    here.waiting = { edits: merged, held };
    return;
  }
  here.asking = true;
  clearTimeout(timers.rest);
  clearTimeout(timers.explain);
  freshen(true);
  try {
    here.number += 1;
    take(await ask("change", { number: here.number, edits, held }), edits.length > 0);
  } catch (error) {
    ended(error);
  } finally {
    here.asking = false;
  }
  const next = here.waiting;
  here.waiting = null;
  if (next) change(next.edits, next.held);
  else if (byId("shut").hidden) timers.rest = setTimeout(rested, REST_MS);
}

function ended(error) {
  if (!["elsewhere", "no key"].includes(error.message)) shut("The program has ended. Start aiming live again; what was not saved will be offered.");
}

const sameThing = (before, now) => before.length === 1 && now.length === 1 &&
  ["edit", "key", "point", "speaker", "range", "end"].every((name) => before[0][name] === now[0][name]);

/* anew: false where only the hand was taken off, so that what it was told stays to be read. */
function take(told, anew = true) {
  if (anew) say(told.refused || "");
  if (told.document) {
    here.document = told.document;
    here.pinned = told.pinned;
    here.before = Object.fromEntries(Object.entries(here.before).filter(([name]) => told.pinned.includes(name)));
    byId("undo").disabled = !told.undo;
    byId("redo").disabled = !told.redo;
    byId("unsaved").textContent = told.unsaved ? "not saved" : "saved";
    byId("save").disabled = !told.unsaved;
  }
  here.none = told.none || null;
  if (told.none) say(`${told.none.speaker}: no placement meets the limits.`);
  if (told.view) {
    here.view = told.view;
    here.proof = told.proof;
    here.chosen = Math.min(here.chosen, told.view.speakers.length - 1);
  }
  if (told.document) {
    if (here.opening) here.opening();
    here.opening = null;
    fields();
  }
  show();
}

const rested = () => rest().catch(ended);

async function rest() {
  const number = here.number;
  const told = await ask("rest", { number });
  if (number !== here.number || here.asking) return;
  if (told.overtaken) {
    timers.rest = setTimeout(rested, 4 * REST_MS);
    return;
  }
  if (told.fault || told.none) {
    say(told.fault || told.none);
    return;
  }
  here.view = told.view;
  here.proof = told.proof;
  here.map = told.map;
  here.cautions = told.cautions;
  here.choices = [];
  freshen(false);
  show();
  timers.explain = setTimeout(() => explain().catch(ended), EXPLAIN_MS - REST_MS);
}

async function explain() {
  const number = here.number;
  const told = await ask("explain", { number });
  if (told.overtaken || number !== here.number || !told.words) return;
  here.view = told.view;
  byId("words").textContent = told.words;
  here.choices = told.choices;
  document.body.classList.add("explained");
  show();
}

function freshen(stale) {
  here.stale = stale;
  document.body.classList.toggle("stale", stale);
  document.body.classList.remove("explained");
  byId("export").disabled = stale || !byId("save").disabled;
}

function say(text) { byId("told").textContent = text; }

/* ---- drawing ---------------------------------------------------------- */

const quotedName = (name) => (/^[A-Za-z0-9_-]+$/.test(name) ? name : JSON.stringify(name));
const wholeHeard = () => (here.heard === null ? (here.view.several ? "together" : 0) : here.heard);

function how() {
  const width = byId("section").parentElement.clientWidth;
  return {
    width, most: Math.max(240, Math.min(0.45 * window.innerHeight, 520)), unit: here.unit, channel: here.channel,
    heard: wholeHeard(), chosen: here.chosen, extent: here.extent, map: here.held ? null : here.map,
    was: here.kept, best: ghost(), span: here.span,
  };
}

/* Where the best is that the ranges allow: before the hand took it elsewhere, or above the lowest
   place that is as good. */
function ghost() {
  const one = here.view.speakers[here.chosen];
  if (!one) return null;
  const [x, height, tilt] = here.before[one.name] ? [here.before[one.name].x, here.before[one.name].height, here.before[one.name].tilt] : one.best || [one.x, one.height, one.tilt];
  if (Math.hypot(x - one.x, height - one.height) < 0.02 && Math.abs(tilt - one.tilt) < 0.2) return null;
  return { ...one, x, height, tilt, aim: null };
}

const withGhost = (view) => ({ ...view, speakers: [...view.speakers, ghost()].filter(Boolean) });

let painting = 0;
function show() {
  if (!painting) painting = requestAnimationFrame(() => { painting = 0; paint(); });
}

function paint() {
  const view = here.view;
  if (!view || !byId("section").parentElement.clientWidth) return;
  if (!here.held) { here.extent = extentOf(withGhost(view)); here.span = null; }
  here.unit = here.unit || view.unit;
  if (here.heard !== null && here.heard !== "together" && here.heard >= view.speakers.length) here.heard = null;
  byId("title").textContent = view.title;
  document.title = `${view.title}: aiming live`;
  byId("datum").textContent = `Heights and distances from the datum: ${view.datum}.`;
  const settings = how();
  const focused = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.handle : null;
  here.place = drawSection(byId("section"), view, settings);
  handles(byId("section"), view, here.place, focused);
  drawChart(byId("chart"), view, settings);
  if (!here.span) here.span = spanOf(view, settings);
  headline(view);
  if (!here.held) { choosers(view); hang(view); cautionList(); drawKey(byId("key"), view, here.kept ? "kept to compare with" : "", ghost() ? "the best that the ranges allow" : ""); }
  const chosen = (view.speakers[here.chosen] || {}).name;
  byId("give-back").disabled = !here.pinned.includes(chosen);
  byId("give-back").textContent = view.several ? `Give ${chosen} its range back` : "Give the range back";
  exact();
}

function headline(view) {
  const heard = wholeHeard(), { figures } = heardOf(view, heard);
  const whose = heard === "together" ? "together " : view.several ? `${view.speakers[heard].name} alone ` : "";
  const parts = [node("span", {}, `${whose}spread `, node("strong", {}, figures.spread))];
  if (figures.within) parts.push(node("span", {}, node("strong", {}, figures.within), " of rows within \u00b13 dB"));
  const one = view.speakers[here.chosen];
  if (one) parts.push(node("span", {}, view.several ? `${one.name} ` : "", node("strong", {}, one.text.tilt), `, ${one.text.height[here.unit]}`));
  if (here.proof) parts.push(node("span", { class: "hint" }, here.proof));
  if (here.kept) {
    const was = heardOf(here.kept, heard === "together" || here.kept.speakers[heard] ? heard : 0).figures;
    parts.push(node("span", { class: "hint" }, `kept: spread ${was.spread}`));
  }
  byId("headline").replaceChildren(...parts);
}

function entry(name, text) { return node("div", {}, node("dt", {}, name), node("dd", {}, text)); }

function hang(view) {
  const listed = [];
  for (const one of view.speakers) {
    if (view.several) listed.push(entry("Loudspeaker", one.name));
    const add = (name, text) => { if (text) listed.push(entry(name, text)); };
    add("Tilt", one.text.tilt);
    add("Acoustic centre", `${one.text.height[here.unit]} above the datum`);
    if (one.text.trim) add("Trim, lowest point", `${one.text.trim[here.unit]} above the datum`);
    add("Place", one.text.x[here.unit]);
    add("Hung", one.text.hung);
    add("Axis meets", one.text.aim ? one.text.aim[here.unit] : "no seating that it serves");
    add("Set to", one.text.setting);
    if (view.several) add("Alone", `spread ${one.figures.spread} over the rows that it serves`);
    else add("Levels", one.figures.ends);
    if (one.loads) {
      for (const point of one.loads.points) add(`Load, ${point.name}`, `${point.force[here.unit]} (${minus(point.share)} of the weight${point.use ? `, ${point.use} of the allowed load` : ""})${point.slack ? ": SLACK" : ""}`);
    }
  }
  byId("hang").replaceChildren(...listed);
}

function cautionList() {
  const names = { stop: "STOP", caution: "Caution", note: "Note" };
  byId("cautions").replaceChildren(...here.cautions.map((one) => node("li", { class: one.severity }, node("strong", {}, names[one.severity]), ` ${one.speaker ? `${one.speaker}: ` : ""}${one.text}`)));
  const box = byId("choices");
  box.hidden = here.choices.length === 0;
  box.querySelectorAll("button").forEach((one) => one.remove());
  for (const one of here.choices) {
    const button = node("button", { type: "button" }, one.text);
    button.addEventListener("click", () => change(one.edits));
    box.append(button);
  }
}

function radios(box, name, options, chosen, choose) {
  const set = byId(box), told = JSON.stringify([options, String(chosen)]);
  set.hidden = options.length < 2;
  if (set.dataset.told === told) return;
  set.dataset.told = told;
  set.querySelectorAll("label").forEach((one) => one.remove());
  options.forEach(([value, text]) => {
    const input = node("input", { type: "radio", name, value });
    input.checked = String(chosen) === String(value);
    input.addEventListener("change", () => { choose(value); show(); });
    set.append(node("label", {}, input, node("span", {}, text)));
  });
}

function choosers(view) {
  radios("band", "band", view.channels.map((text, number) => [number, text]), here.channel, (channel) => { here.channel = Number(channel); });
  const several = view.several ? [["together", "all together"], ...view.speakers.map((one, number) => [number, `${one.name} alone`])] : [];
  radios("heard", "heard", several, wholeHeard(), (value) => { here.heard = value === "together" ? value : Number(value); });
  radios("unit", "unit", [["m", "metres"], ["ft", "feet"]], here.unit, (unit) => { here.unit = unit; });
  byId("heard-words").textContent = wholeHeard() === "together" ? "all loudspeakers together, about the mean over the rows" : "about the mean over the rows";
}

/* ---- handles ---------------------------------------------------------- */

/* What can be taken hold of: label, place in metres, what moves, and the edit that puts it elsewhere. */
function handles(svg, view, place, focused) {
  const layer = shape("g", {});
  here.handles = [];
  const add = (one, ...inside) => layer.append(handle(one, place, inside));
  const dot = (label, at, edit) => add({ label, at, edit }, circle(place.to(at), 22, "reach"), circle(place.to(at), 4, "dot"));
  for (const [table, list] of [["seating", view.seatings], ["surface", view.surfaces]]) {
    for (const { name, floor, line } of list) {
      const points = floor || line, key = `${table}.${quotedName(name)}.line`;
      add({ label: name, at: points[0], along: true, edit: (to) => ({ edit: "move line", key, to }) }, shape("path", { d: path(points.map(place.to)), class: "along" }));
      points.forEach((at, point) => dot(`${name}, ${point === 0 ? "first end" : point === points.length - 1 ? "last end" : `bend ${point}`}`, at, (to) => ({ edit: "move point", key, point, to })));
    }
  }
  for (const { name, at } of view.points || []) dot(name, at, (to) => ({ edit: "move place", key: `point.${quotedName(name)}.at`, to }));
  if (view.focus) dot("focus", view.focus, (to) => ({ edit: "move place", key: "focus.at", to }));
  view.speakers.forEach((one, number) => {
    if (one.hungUnder) return;
    if (number === here.chosen) { rangeHandles(add, one, place); tiltHandles(add, one, place); }
    add({ label: one.name, at: [one.x, one.height], number, edit: (to) => ({ edit: "pin", speaker: one.name, to, tilt: one.tilt, flipped: one.flipped }) },
      circle(place.to([one.x, one.height]), 22, "reach"));
  });
  svg.append(layer);
  if (focused) {
    const again = layer.querySelector(`[data-handle=${JSON.stringify(focused)}]`);
    if (again) again.focus({ preventScroll: true });
  }
}

const circle = ([cx, cy], r, kind) => shape("circle", { cx, cy, r, class: kind });

function handle(one, place, inside) {
  const group = shape("g", { class: "handle", tabindex: 0, role: "button", "aria-label": `${one.label}: ${words(one)}`, "data-handle": one.label });
  const [x, y] = one.drawn || place.to(one.at);
  here.handles.push({ ...one, group, x, y });
  group.append(...inside);
  group.addEventListener("pointerdown", (event) => grab(event, one));
  group.addEventListener("keydown", (event) => nudge(event, one));
  group.addEventListener("focus", () => {
    here.handle = one.label;
    if (one.number !== undefined && here.chosen !== one.number) { here.chosen = one.number; show(); } else exact();
  });
  return group;
}

const shownLength = (metres) => minus((here.unit === "ft" ? metres / FOOT : metres).toFixed(2));

function words(one) {
  if (one.tilt !== undefined) return `${minus(one.tilt.toFixed(1))}\u00b0`;
  const parts = [one.only !== "z" && `x ${shownLength(one.at[0])}`, one.only !== "x" && `z ${shownLength(one.at[1])}`];
  return `${parts.filter(Boolean).join(", ")} ${here.unit}`;
}

/* Ends of what the solver may choose: bars joined by a line, beside the box so that both can be
   taken hold of. */
function rangeHandles(add, one, place) {
  const { range } = one, drop = range.of === "trim" ? one.height - one.trim : 0;
  const middle = Math.min(Math.max(one.x, range.x[0]), range.x[1]), beside = 3.4 * place.em;
  const left = place.to([middle, 0])[0] - beside > place.frame.x + 12 ? -beside : beside;
  const bars = (which, ends, to, labels, at, only, across) => {
    if (ends[0] === ends[1]) return;
    const [a, b] = ends.map((value) => at(value));
    ends.forEach((value, end) => {
      const [x, y] = end ? b : a, join = end ? [] : [shape("path", { d: path([a, b]), class: "span" })];
      add({ label: `${one.name}, ${labels[end]}`, at: only === "z" ? [middle, value + drop] : [value, one.height], only, drawn: [x, y], edit: (put) => ({ edit: "limit", speaker: one.name, range: which, end, to: to(put) }) },
        ...join, circle([x, y], 22, "reach"), shape("path", { d: across(x, y), class: "bar" }));
    });
  };
  bars("vertical", range.vertical, ([, z]) => z - drop, ["lowest", "highest"],
    (value) => { const [x, y] = place.to([middle, value + drop]); return [x + left, y]; }, "z", (x, y) => `M${x - 12},${y} H${x + 12}`);
  bars("x", range.x, ([x]) => x, ["farthest back", "farthest forward"],
    (value) => { const [x, y] = place.to([value, one.height]); return [x, y - beside]; }, "x", (x, y) => `M${x},${y - 12} V${y + 12}`);
}

/* The axis can be turned; the ends of its range are short strokes across where it may point. */
function tiltHandles(add, one, place) {
  const far = one.aim ? 0.62 * Math.hypot(one.aim[0] - one.x, one.aim[1] - one.height) : 120 / place.scale;
  const along = (tilt, distance) => [one.x + distance * Math.cos(tilt * TILT_OF), one.height + distance * Math.sin(tilt * TILT_OF)];
  const turned = ([x, z]) => Math.atan2(z - one.height, x - one.x) / TILT_OF;
  const turn = (label, tilt, distance, edit, ...inside) => add({ label, at: along(tilt, distance), tilt, turned, around: (of) => along(of, distance), edit: (to) => edit(turned(to)) }, ...inside);
  const at = place.to(along(one.tilt, far));
  turn(`${one.name}, axis`, one.tilt, far, (to) => ({ edit: "turn", speaker: one.name, to }), circle(at, 22, "reach"), circle(at, 4, "dot"));
  if (one.range.tilt[0] === one.range.tilt[1]) return;
  one.range.tilt.forEach((tilt, end) => {
    if (Math.abs(tilt) > 89) return;
    const reach = 80 / place.scale, [a, b] = [along(tilt, 0.85 * reach), along(tilt, 1.15 * reach)].map(place.to);
    turn(`${one.name}, ${end ? "most nose up" : "most nose down"}`, tilt, reach, (to) => ({ edit: "limit", speaker: one.name, range: "tilt", end, to }),
      circle(place.to(along(tilt, reach)), 22, "reach"), shape("path", { d: path([a, b]), class: "bar" }));
  });
}

/* Of handles that lie close together the nearest is meant; of equals the one on top. */
function meant(event, touched) {
  const svg = byId("section"), box = svg.getBoundingClientRect(), by = grown();
  const x = (event.clientX - box.x) * by, y = (event.clientY - box.y) * by;
  const away = (of) => Math.hypot(of.x - x, of.y - y), dots = here.handles.filter((of) => !of.along);
  const near = dots.reduce((best, of) => (away(of) < away(best) + 2 ? of : best), dots[0]);
  return near && away(near) <= 22 * by ? near : here.handles.find((of) => of.label === touched.label);
}

/* A handle is held from the first real movement until it is let go; the scale stays meanwhile. */
function grab(event, touched) {
  if (event.button !== 0) return;
  event.preventDefault();
  const { group, label, at, edit } = meant(event, touched);
  group.focus({ preventScroll: true });
  const svg = byId("section"), start = [event.clientX, event.clientY], id = `${Date.now()}-${Math.random()}`;
  let moving = false;
  const move = (now) => {
    const [x, y] = [now.clientX, now.clientY];
    if (!moving && Math.hypot(x - start[0], y - start[1]) < SLOP_PX) return;
    if (!moving) { moving = true; here.held = { id, label }; }
    const scale = here.place.scale / grown();
    const to = [at[0] + (x - start[0]) / scale, at[1] - (y - start[1]) / scale];
    showHand(to);
    change([edit(to)], id);
  };
  const end = (cancelled) => {
    svg.removeEventListener("pointermove", move);
    svg.removeEventListener("pointerup", drop);
    svg.removeEventListener("pointercancel", drop);
    document.removeEventListener("keydown", escape);
    if (!moving) return;
    here.held = null;
    if (cancelled) step(-1, id); else change([]);
  };
  const drop = () => end(false);
  const escape = (now) => { if (now.key === "Escape") end(true); };
  svg.setPointerCapture(event.pointerId);
  svg.addEventListener("pointermove", move);
  svg.addEventListener("pointerup", drop);
  svg.addEventListener("pointercancel", drop);
  document.addEventListener("keydown", escape);
}

/* Where the hand is, at once; the picture follows. */
function showHand(to) {
  const svg = byId("section"), [x, y] = here.place.to(to);
  let dot = byId("hand");
  if (!dot) {
    dot = shape("circle", { id: "hand", r: 5, class: "hand" });
    svg.append(dot);
  }
  dot.setAttribute("cx", x);
  dot.setAttribute("cy", y);
}

/* Drawn units in a pixel of the page. */
function grown() {
  const svg = byId("section");
  return Number(svg.getAttribute("viewBox").split(" ")[2]) / svg.getBoundingClientRect().width;
}

function nudge(event, one) {
  const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
  if (event.key === "Escape") one.group.blur();
  const way = ways[event.key];
  if (!way) return;
  event.preventDefault();
  const by = event.shiftKey ? STEP.large : event.altKey ? STEP.fine : STEP.plain;
  if (one.tilt !== undefined) { change([one.edit(one.around(one.tilt + (way[0] + way[1]) * by))]); return; }
  const metres = by * (here.unit === "ft" ? FOOT : 1);
  change([one.edit([one.at[0] + way[0] * metres, one.at[1] + way[1] * metres])]);
}

/* The place of the handle that was taken last, to be typed. */
function exact() {
  const one = here.handles.find((of) => of.label === here.handle);
  byId("exact-label").textContent = one ? one.label : "Take a handle to type its place";
  for (const axis of ["x", "z", "tilt"]) {
    const input = byId(`exact-${axis}`), wanted = Boolean(one) && (axis === "tilt" ? one.tilt !== undefined : one.tilt === undefined && (!one.only || one.only === axis));
    input.parentElement.hidden = !wanted;
    if (wanted && document.activeElement !== input) input.value = axis === "tilt" ? minus(one.tilt.toFixed(2)) : shownLength(one.at[axis === "x" ? 0 : 1]);
  }
  document.querySelectorAll("#exact .unit").forEach((of) => { of.textContent = here.unit; });
}

function typedPlace(axis, text) {
  const one = here.handles.find((of) => of.label === here.handle), value = Number(text.replace("\u2212", "-").replace(",", "."));
  if (!one || text.trim() === "" || !Number.isFinite(value)) { say(`${text}: a number`); return; }
  if (axis === "tilt") { change([one.edit(one.around(value))]); return; }
  const metres = value * (here.unit === "ft" ? FOOT : 1);
  change([one.edit(axis === "x" ? [metres, one.at[1]] : [one.at[0], metres])]);
}

/* ---- typed fields ----------------------------------------------------- */

const SELECTS = {
  orientation: ["upright", "flipped", "either"], mount: ["flown", "stacked"],
  objective: ["spread", "worst band", "deviation"], aim: ["all at once", "one by one"], sum: ["power", "coherent"], lobe: ["quadratic", "piston", "flat"],
  method: ["two points", "one point", "pull-back"],
};
const SPEAKER = [["placement.height", "Height"], ["placement.trim", "Trim"], ["placement.base", "Base"], ["placement.x", "x"], ["placement.tilt", "Tilt"],
  ["placement.orientation", "Hung"], ["placement.mount", "Mount"], ["pattern.coverage", "Coverage angle"], ["serves", "Serves"], ["gain_db", "Gain, dB"], ["delay_ms", "Delay, ms"],
  ["fills", "Fill for"], ["behind_ms", "Arrives after it, ms"], ["ceiling_db", "At most louder, dB"], ["handover", "Handover row"]];
const RIGGING = [["method", "method"], ["picks", "picks used"], ["extra_mass_kg", "extra mass, kg"], ["extra_mass", "extra mass"], ["extra_at", "where it acts [u, w]"], ["wll_share", "share of the limit"],
  ["dynamic_factor", "dynamic factor"], ["holes", "holes, u"], ["holes_w", "holes, w"], ["bar", "bar [u from, u to]"], ["pull_elevation_deg", "pull, degrees"], ["pulling_point", "pulled from [x, z]"],
  ["steel_height", "steel, z"], ["secondary_suspension", "secondary suspension"]];
const BODY = [["pattern.control_from_hz", "Control from, Hz"], ["pattern.control_height", "Control height"], ["pattern.lobe", "Lobe"], ["pattern.lowest_db", "Lowest, dB"],
  ["output.sensitivity_db", "Sensitivity, dB"], ["output.max_level_db", "Largest level, dB"], ["eq_db", "Equaliser, dB"],
  ["cabinet.mass_kg", "Mass, kg"], ["cabinet.mass", "Mass"], ["cabinet.outline", "Outline [u, w]"], ["cabinet.height", "Cabinet's height"], ["cabinet.depth", "Cabinet's depth"],
  ["cabinet.centre_of_gravity", "Centre of gravity"], ["cabinet.picks", "Picks"], ["cabinet.laser_at", "Laser at [u, w]"], ["cabinet.reference_face_deg", "Reference face, degrees"],
  ["hung_under", "Hangs under"], ["splay", "Splay"], ["joint", "Joint [u, w]"], ["own_joint", "Own joint [u, w]"],
  ...["upright", "flipped"].flatMap((turn) => RIGGING.map(([key, label]) => [`rigging.${turn}.${key}`, `${turn === "upright" ? "Upright" : "Flipped"}: ${label}`]))];
const ROWS = [["line", "Floor [x, z]"], ["ears", "Ears"], ["row_spacing", "Row spacing"], ["rows", "Number of rows"], ["row_names", "Row names"], ["weight", "Weight"]];
const WALL = [["line", "Line [x, z]"], ["absorption", "Absorption"]];
const HALL = [["aim.objective", "Make small"], ["aim.axis_on_audience", "Axis on the audience"], ["aim.lower_if_within_db", "Lower if within, dB"], ["aim.left_to_fill", "Rows left to a fill"],
  ["aim.bands", "Design bands, Hz"], ["aim.gap_db", "Proven to, dB"], ["aim.softest_db", "Least level, dB"], ["aim.max_front_elevation_deg", "Front row looks up at most, degrees"],
  ["together.aim", "Several are aimed"], ["together.sum", "Sum"], ["together.without", "Loudspeakers left out"], ["programme.spectrum", "Programme"], ["programme.target_db", "Level wanted, dB"], ["programme.weighting", "Weighting"],
  ["air.temperature_c", "Air, \u00b0C"], ["air.humidity_percent", "Humidity, %"], ["air.pressure_kpa", "Pressure, kPa"], ["outdoors.gust_speed", "Gusts"], ["time.reference", "Time zero [x, z]"]];

function tomlText(value) {
  if (value === undefined || value === null) return "";
  if (Array.isArray(value)) return `[${value.map(inner).join(", ")}]`;
  if (typeof value === "object") return inner(value);
  return String(value);
}

function inner(value) {
  if (Array.isArray(value)) return `[${value.map(inner).join(", ")}]`;
  if (value !== null && typeof value === "object") return `{ ${Object.entries(value).map(([key, one]) => `${quotedName(key)} = ${inner(one)}`).join(", ")} }`;
  return typeof value === "string" ? JSON.stringify(value) : String(value);
}

const within = (table, key) => key.split(".").reduce((held, part) => (held === undefined || held === null ? undefined : held[part]), table);

function field(table, prefix, [key, label]) {
  const whole = prefix ? `${prefix}.${key}` : key, value = within(table, key), name = key.split(".").pop();
  let input;
  if (SELECTS[name]) {
    input = node("select", {}, new Option("(as usual)", ""), ...SELECTS[name].map((one) => new Option(one, one)));
    input.value = value || "";
  } else {
    input = node("input", { type: "text", autocomplete: "off", spellcheck: "false" });
    input.value = tomlText(value);
  }
  input.dataset.key = whole;
  input.addEventListener("change", () => change([{ edit: "set", key: whole, typed: input.value }, ...alongWith(table, prefix, key, input.value)]));
  return node("label", {}, node("span", {}, label), input);
}

/* A method of rigging fits nothing without its picks, so it brings the first of them. */
function alongWith(table, prefix, key, value) {
  const found = /^(rigging\.\w+)\.method$/.exec(key);
  if (!found || !value || within(table, `${found[1]}.picks`)) return [];
  const names = (within(table, "cabinet.picks") || []).slice(0, value === "one point" ? 1 : 2).map((one) => one.name);
  return [{ edit: "set", key: `${prefix}.${found[1]}.picks`, value: names }];
}

function nameField(table, name, prefix) {
  const input = node("input", { type: "text", autocomplete: "off" });
  input.value = name;
  input.dataset.key = `${prefix}.name`;
  input.addEventListener("change", () => { here.open.add(`${table} ${input.value}`); change([{ edit: "rename", table, member: name, name: input.value }]); });
  return node("label", {}, node("span", {}, "Name"), input);
}

function act(text, ...edits) {
  const button = node("button", { type: "button" }, text);
  button.addEventListener("click", () => change(edits));
  return button;
}

function member(table, one, list) {
  const prefix = `${table}.${quotedName(one.name)}`, key = `${prefix}.line`;
  const box = node("details", { "data-member": `${table} ${one.name}`, class: "member" }, node("summary", {}, one.name), nameField(table, one.name, prefix));
  stayOpen(box, `${table} ${one.name}`);
  const source = one.drawing ? `from the drawing ${one.drawing.file}` : one.survey ? "from a survey" : one.pattern && one.pattern.file ? `pattern file ${one.pattern.file}` : "";
  if (source) box.append(node("p", { class: "hint" }, source));
  for (const of of list) {
    const value = within(one, of[0]);
    const rival = { "placement.height": ["placement.trim", "placement.base"], "placement.trim": ["placement.height", "placement.base"], "placement.base": ["placement.height", "placement.trim"], row_spacing: ["rows"], rows: ["row_spacing"] }[of[0]];
    if (value === undefined && rival && rival.some((other) => within(one, other) !== undefined)) continue;
    if (value === undefined && ["placement.trim", "placement.base", "rows"].includes(of[0])) continue;
    if (of[0] === "pattern.coverage" && one.pattern && one.pattern.file) continue;
    if (["behind_ms", "ceiling_db"].includes(of[0]) && !one.fills) continue;
    box.append(field(one, prefix, of));
  }
  if (table === "speaker") {
    const more = node("details", {}, node("summary", {}, "Box, output, rigging"), ...BODY.map((of) => field(one, prefix, of)));
    stayOpen(more, `body ${one.name}`);
    box.append(more);
  }
  const acts = node("p", { class: "acts" }, act("Duplicate", { edit: "duplicate", table, member: one.name }), act("Delete", { edit: "delete", table, member: one.name }));
  if (Array.isArray(one.line)) {
    const bend = node("button", { type: "button" }, "Add a bend");
    bend.addEventListener("click", () => change([bendOf(table, one.name, key)]));
    acts.append(bend);
    if (one.line.length > 2) acts.append(act("Take the last bend away", { edit: "drop point", key, point: one.line.length - 2 }));
  }
  box.append(acts);
  return box;
}

function stayOpen(box, name) {
  box.open = here.open.has(name);
  box.addEventListener("toggle", () => { if (box.open) here.open.add(name); else here.open.delete(name); });
}

/* Amid the longest piece. */
function bendOf(table, name, key) {
  const list = table === "seating" ? here.view.seatings.map((one) => [one.name, one.floor]) : here.view.surfaces.map((one) => [one.name, one.line]);
  const points = list.find(([of]) => of === name)[1];
  const long = points.slice(1).map(([x, z], at) => Math.hypot(x - points[at][0], z - points[at][1]));
  const point = long.indexOf(Math.max(...long));
  return { edit: "add point", key, point, to: [0, 1].map((of) => (points[point][of] + points[point + 1][of]) / 2) };
}

function fields() {
  const box = byId("fields"), focused = document.activeElement && document.activeElement.dataset ? document.activeElement.dataset.key : null;
  const whole = node("details", { class: "member" }, node("summary", {}, "The section as a whole"), textField("title", "Title", here.document.title), textField("datum.name", "Datum", within(here.document, "datum.name")),
    unitField(), ...HALL.map((of) => field(here.document, "", of)));
  stayOpen(whole, "whole");
  box.replaceChildren(
    ...(here.document.speaker || []).map((one) => member("speaker", one, SPEAKER)),
    ...(here.document.seating || []).map((one) => member("seating", one, ROWS)),
    ...(here.document.surface || []).map((one) => member("surface", one, WALL)),
    whole);
  if (focused) {
    const again = [...box.querySelectorAll("[data-key]")].find((one) => one.dataset.key === focused);
    if (again) again.focus({ preventScroll: true });
  }
}

/* The file's own unit: its bare lengths are written anew. */
function unitField() {
  const input = node("select", { "data-key": "units" }, new Option("metres", "m"), new Option("feet", "ft"));
  input.value = here.document.units || "m";
  input.addEventListener("change", () => { here.unit = input.value; change([{ edit: "units", to: input.value }]); });
  return node("label", {}, node("span", {}, "Lengths in the file"), input);
}

function textField(key, label, value) {
  const input = node("input", { type: "text", autocomplete: "off", "data-key": key });
  input.value = value || "";
  input.addEventListener("change", () => change([{ edit: "set", key, value: input.value || null }]));
  return node("label", {}, node("span", {}, label), input);
}

/* ---- acts ------------------------------------------------------------- */

/* held: only what this drag did is undone, if it did anything. */
async function step(by, held = null) {
  if (here.asking) { setTimeout(() => step(by, held), 20); return; }
  here.waiting = null;
  clearTimeout(timers.rest);
  clearTimeout(timers.explain);
  here.number += 1;
  freshen(true);
  take(await ask("step", { number: here.number, by, held }));
  timers.rest = setTimeout(rested, REST_MS);
}

async function save(how) {
  const told = await ask("save", { how });
  byId("outside").hidden = !told.outside;
  byId("kept").textContent = told.refused || (told.outside ? "The file was changed by somebody else meanwhile. Nothing was written." : told.saved ? `Saved as ${told.saved}.` : "");
  if (told.file) byId("file").textContent = told.file;
  if (told.document) { take(told); timers.rest = setTimeout(rested, REST_MS); }
  if (told.unsaved !== undefined) {
    byId("unsaved").textContent = told.unsaved ? "not saved" : "saved";
    byId("save").disabled = !told.unsaved;
  }
  freshen(here.stale);
}

async function exportAll() {
  byId("export").disabled = true;
  const said = (text) => { byId("kept").textContent = text; };
  said("Solving …");
  let told = await ask("export", { begin: true });
  const began = Date.now();
  while (told.running) {
    await new Promise((done) => { setTimeout(done, 400); });
    told = await ask("export", {});
    if (told.running) said(`${told.running === "solving" ? "Solving" : "Drawing and writing"} … ${Math.round((Date.now() - began) / 1000)} s`);
  }
  said(told.refused || told.told);
  freshen(here.stale);
}

function addThing(what) {
  const table = what === "fill" ? "speaker" : what, before = new Set((here.document[table] || []).map((one) => one.name));
  here.opening = () => { for (const one of here.document[table] || []) if (!before.has(one.name)) here.open.add(`${table} ${one.name}`); };
  if (what !== "fill") { change([{ edit: "add", table: what }]); return; }
  const main = here.view.speakers[here.chosen].name, first = here.view.seatings[0].name;
  change([{ edit: "add", table: "speaker", name: "front fill", fills: main, serves: first }]);
}

function keepToCompare() {
  here.kept = here.kept ? null : JSON.parse(JSON.stringify(here.view));
  byId("keep").textContent = here.kept ? "Compare no longer" : "Keep this to compare with";
  show();
}

function setUp() {
  byId("undo").addEventListener("click", () => step(-1));
  byId("redo").addEventListener("click", () => step(1));
  byId("give-back").addEventListener("click", () => change([{ edit: "give back", speaker: here.view.speakers[here.chosen].name }]));
  byId("keep").addEventListener("click", keepToCompare);
  byId("save").addEventListener("click", () => save("save"));
  byId("export").addEventListener("click", exportAll);
  byId("outside").querySelectorAll("button").forEach((one) => one.addEventListener("click", () => save(one.dataset.how)));
  byId("found-take").addEventListener("click", () => found(true));
  byId("found-leave").addEventListener("click", () => found(false));
  document.querySelectorAll("[data-add]").forEach((one) => one.addEventListener("click", () => addThing(one.dataset.add)));
  for (const axis of ["x", "z", "tilt"]) byId(`exact-${axis}`).addEventListener("change", (event) => typedPlace(axis, event.target.value));
  byId("exact").addEventListener("submit", (event) => event.preventDefault());
  byId("listening").addEventListener("submit", (event) => event.preventDefault());
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches("input, select")) return;
    if (event.key.toLowerCase() === "z") { event.preventDefault(); step(event.shiftKey ? 1 : -1); }
    if (event.key.toLowerCase() === "y") { event.preventDefault(); step(1); }
    if (event.key.toLowerCase() === "s") { event.preventDefault(); save("save"); }
  });
  new ResizeObserver(() => { if (!here.held) show(); }).observe(byId("section").parentElement);
  window.addEventListener("pagehide", () => {
    fetch("/leave", { method: "POST", keepalive: true, headers: { "Content-Type": "application/json", "X-Aiming-Key": here.key }, body: JSON.stringify({ page: here.page }) });
  });
  setInterval(() => { ask("alive").catch(ended); }, ALIVE_MS);
}

async function found(taken) {
  byId("found").hidden = true;
  here.number += 1;
  take(await ask("found", { take: taken, number: here.number }));
  timers.rest = setTimeout(rested, REST_MS);
}

function opened(told) {
  here.page = told.page || here.page;
  here.number = told.number;
  byId("start").hidden = true;
  byId("live").hidden = false;
  byId("file").textContent = told.file;
  byId("found").hidden = !told.found;
  here.view = null;
  here.extent = null;
  freshen(true);
  take(told);
  timers.rest = setTimeout(rested, REST_MS);
}

function offer(starts) {
  byId("start").hidden = false;
  byId("starts").replaceChildren(...starts.map((text, number) => {
    const button = node("button", { type: "button" }, text);
    button.addEventListener("click", async () => {
      const told = await ask("open", { start: number });
      if (told.refused) { button.textContent = `${text}: ${told.refused}`; return; }
      opened(told);
    });
    return node("li", {}, button);
  }));
}

async function begin() {
  // The key leaves the address at once, so that it stands in no history and on no screen.
  if (location.hash.length > 1) {
    sessionStorage.setItem(KEY, location.hash.slice(1));
    history.replaceState(null, "", "/");
  }
  here.key = sessionStorage.getItem(KEY) || "";
  setUp();
  const told = await ask("begin");
  here.page = told.page;
  if (told.starts) offer(told.starts); else opened(told);
}

begin().catch((error) => { if (byId("shut").hidden) shut(String(error.message)); });
