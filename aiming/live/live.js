"use strict";

/* The section under the hand: what is dragged or typed is asked, the newest answer is drawn. */

const KEY = "aiming-key", REST_MS = 40, EXPLAIN_MS = 300, ALIVE_MS = 20000, SLOP_PX = 3;
const STEP = { plain: 0.1, large: 1, fine: 0.01 };
const here = {
  key: "", page: "", number: 0, view: null, document: null, map: null, cautions: [], pinned: [],
  chosen: 0, channel: 0, heard: null, unit: null, kept: null, extent: null, span: null,
  held: null, stale: true, place: null, asking: false, waiting: null, none: null, choices: [], open: new Set(),
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

/* One question unanswered at most; of those that come meanwhile only the newest waits. */
async function change(edits, held = null) {
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
    take(await ask("change", { number: here.number, edits, held }));
  } catch (error) {
    if (!["elsewhere", "no key"].includes(error.message)) shut("The program has ended. Start aiming live again; what was not saved will be offered.");
  } finally {
    here.asking = false;
  }
  const next = here.waiting;
  here.waiting = null;
  if (next) change(next.edits, next.held);
  else if (byId("shut").hidden) timers.rest = setTimeout(rest, REST_MS);
}

const sameThing = (before, now) => before.length === 1 && now.length === 1 &&
  ["edit", "key", "point", "speaker", "range", "end"].every((name) => before[0][name] === now[0][name]);

function take(told) {
  say(told.refused || "");
  if (told.document) {
    here.document = told.document;
    here.pinned = told.pinned;
    byId("undo").disabled = !told.undo;
    byId("redo").disabled = !told.redo;
    byId("unsaved").textContent = told.unsaved ? "not saved" : "saved";
    byId("save").disabled = !told.unsaved;
  }
  here.none = told.none || null;
  if (told.none) say(`${told.none.speaker}: no placement meets the limits.`);
  if (told.view) {
    here.view = told.view;
    here.chosen = Math.min(here.chosen, told.view.speakers.length - 1);
  }
  if (told.document) {
    if (here.opening) here.opening();
    here.opening = null;
    fields();
  }
  show();
}

async function rest() {
  const number = here.number;
  const told = await ask("rest", { number });
  if (number !== here.number || here.asking) return;
  if (told.overtaken) {
    timers.rest = setTimeout(rest, 4 * REST_MS);
    return;
  }
  if (told.fault || told.none) {
    say(told.fault || told.none);
    return;
  }
  here.view = told.view;
  here.map = told.map;
  here.cautions = told.cautions;
  here.choices = [];
  freshen(false);
  show();
  timers.explain = setTimeout(explain, EXPLAIN_MS - REST_MS);
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

/* The best there is in the ranges, where the loudspeaker is held or pinned elsewhere. */
function ghost() {
  const one = here.view.speakers[here.chosen];
  if (!one || !one.best || Math.hypot(one.best[0] - one.x, one.best[1] - one.height) < 0.02) return null;
  return { ...one, x: one.best[0], height: one.best[1], tilt: one.best[2], aim: null };
}

let painting = 0;
function show() {
  if (!painting) painting = requestAnimationFrame(() => { painting = 0; paint(); });
}

function paint() {
  const view = here.view;
  if (!view) return;
  if (!here.held) { here.extent = extentOf(view); here.span = null; }
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
  if (!here.held) { choosers(view); hang(view); cautionList(); drawKey(byId("key"), view, here.kept ? "axis kept to compare with" : ""); }
  byId("give-back").disabled = !here.pinned.includes((view.speakers[here.chosen] || {}).name);
}

function headline(view) {
  const heard = wholeHeard(), { figures } = heardOf(view, heard);
  const whose = heard === "together" ? "together " : view.several ? `${view.speakers[heard].name} alone ` : "";
  const parts = [node("span", {}, `${whose}spread `, node("strong", {}, figures.spread))];
  if (figures.within) parts.push(node("span", {}, node("strong", {}, figures.within), " of rows within \u00b13 dB"));
  const one = view.speakers[here.chosen];
  if (one) parts.push(node("span", {}, view.several ? `${one.name} ` : "", node("strong", {}, one.text.tilt), `, ${one.text.height[here.unit]}`));
  const gaps = view.speakers.map((of) => of.gap).filter((of) => of !== null);
  if (gaps.length) parts.push(node("span", { class: "hint" }, here.stale ? "proven within 0.3 dB" : `proven within ${Math.max(0.01, ...gaps).toFixed(2)} dB`));
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

function handles(svg, view, place, focused) {
  const layer = shape("g", {});
  for (const [table, list] of [["seating", view.seatings], ["surface", view.surfaces]]) {
    for (const { name, floor, line } of list) {
      const points = floor || line, key = `${table}.${quotedName(name)}.line`;
      layer.append(alongHandle(name, key, points, place));
      points.forEach((at, point) => layer.append(dotHandle(`${name}, ${point === 0 ? "first end" : point === points.length - 1 ? "last end" : `bend ${point}`}`, at, place, (to) => ({ edit: "move point", key, point, to }))));
    }
  }
  for (const { name, at } of view.points || []) layer.append(dotHandle(name, at, place, (to) => ({ edit: "move place", key: `point.${quotedName(name)}.at`, to })));
  if (view.focus) layer.append(dotHandle("focus", view.focus, place, (to) => ({ edit: "move place", key: "focus.at", to })));
  view.speakers.forEach((one, number) => {
    if (number === here.chosen && !one.hungUnder) rangeHandles(layer, one, place);
    if (!one.hungUnder) layer.append(boxHandle(one, number, place));
  });
  svg.append(layer);
  if (focused) {
    const again = layer.querySelector(`[data-handle=${JSON.stringify(focused)}]`);
    if (again) again.focus({ preventScroll: true });
  }
}

function handle(label, at, edit, ...inside) {
  const group = shape("g", { class: "handle", tabindex: 0, role: "button", "aria-label": `${label}: ${words(at)}`, "data-handle": label });
  group.append(...inside);
  group.addEventListener("pointerdown", (event) => grab(event, group, label, at, edit));
  group.addEventListener("keydown", (event) => nudge(event, label, at, edit));
  return group;
}

const words = ([x, z]) => `x ${minus((here.unit === "ft" ? x / FOOT : x).toFixed(2))}, z ${minus((here.unit === "ft" ? z / FOOT : z).toFixed(2))} ${here.unit}`;

function dotHandle(label, at, place, edit) {
  const [x, y] = place.to(at);
  return handle(label, at, edit, shape("circle", { cx: x, cy: y, r: 12, class: "reach" }), shape("circle", { cx: x, cy: y, r: 4, class: "dot" }));
}

function alongHandle(name, key, points, place) {
  return handle(name, points[0], (to) => ({ edit: "move line", key, to }), shape("path", { d: path(points.map(place.to)), class: "along" }));
}

function boxHandle(one, number, place) {
  const [x, y] = place.to([one.x, one.height]);
  const made = handle(one.name, [one.x, one.height], (to) => ({ edit: "pin", speaker: one.name, to, tilt: one.tilt, flipped: one.flipped }),
    shape("circle", { cx: x, cy: y, r: 22, class: "reach" }));
  made.addEventListener("focus", () => { if (here.chosen !== number) { here.chosen = number; show(); } });
  return made;
}

/* Ends of what the solver may choose: bars across the height, or along x. */
function rangeHandles(layer, one, place) {
  const { range } = one, drop = range.of === "trim" ? one.height - one.trim : 0;
  const middle = Math.min(Math.max(one.x, range.x[0]), range.x[1]);
  range.vertical.forEach((value, end) => {
    if (range.vertical[0] === range.vertical[1]) return;
    const [x, y] = place.to([middle, value + drop]);
    layer.append(handle(`${one.name}, ${end ? "highest" : "lowest"}`, [middle, value + drop],
      ([, z]) => ({ edit: "limit", speaker: one.name, range: "vertical", end, to: z - drop }),
      shape("rect", { x: x - 22, y: y - 11, width: 44, height: 22, class: "reach" }), shape("path", { d: `M${x - 12},${y} H${x + 12}`, class: "bar" })));
  });
  range.x.forEach((value, end) => {
    if (range.x[0] === range.x[1]) return;
    const [x, y] = place.to([value, one.height]);
    layer.append(handle(`${one.name}, ${end ? "farthest forward" : "farthest back"}`, [value, one.height],
      ([to]) => ({ edit: "limit", speaker: one.name, range: "x", end, to }),
      shape("rect", { x: x - 11, y: y - 22, width: 22, height: 44, class: "reach" }), shape("path", { d: `M${x},${y - 12} V${y + 12}`, class: "bar" })));
  });
}

/* A handle is held from the first real movement until it is let go; the scale stays meanwhile. */
function grab(event, group, label, at, edit) {
  if (event.button !== 0) return;
  event.preventDefault();
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
    if (cancelled) step(-1); else change([]);
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

function nudge(event, label, at, edit) {
  const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
  const way = ways[event.key];
  if (!way) return;
  event.preventDefault();
  const by = (event.shiftKey ? STEP.large : event.altKey ? STEP.fine : STEP.plain) * (here.unit === "ft" ? FOOT : 1);
  change([edit([at[0] + way[0] * by, at[1] + way[1] * by])]);
}

/* ---- typed fields ----------------------------------------------------- */

const SELECTS = {
  orientation: ["upright", "flipped", "either"], mount: ["flown", "stacked"],
  objective: ["spread", "worst band", "deviation"], sum: ["power", "coherent"], lobe: ["quadratic", "piston", "flat"],
};
const SPEAKER = [["placement.height", "Height"], ["placement.trim", "Trim"], ["placement.base", "Base"], ["placement.x", "x"], ["placement.tilt", "Tilt"],
  ["placement.orientation", "Hung"], ["placement.mount", "Mount"], ["pattern.coverage", "Coverage angle"], ["serves", "Serves"], ["gain_db", "Gain, dB"], ["delay_ms", "Delay, ms"],
  ["fills", "Fill for"], ["behind_ms", "Arrives after it, ms"], ["ceiling_db", "At most louder, dB"]];
const BODY = [["pattern.control_from_hz", "Control from, Hz"], ["pattern.lobe", "Lobe"], ["output.sensitivity_db", "Sensitivity, dB"], ["output.max_level_db", "Largest level, dB"],
  ["cabinet.mass_kg", "Mass, kg"], ["cabinet.outline", "Outline [u, w]"], ["cabinet.centre_of_gravity", "Centre of gravity"], ["cabinet.picks", "Picks"],
  ["rigging.upright.method", "Upright: method"], ["rigging.upright.picks", "Upright: picks used"], ["rigging.upright.extra_mass_kg", "Upright: extra mass, kg"],
  ["rigging.flipped.method", "Flipped: method"], ["rigging.flipped.picks", "Flipped: picks used"]];
const ROWS = [["line", "Floor [x, z]"], ["ears", "Ears"], ["row_spacing", "Row spacing"], ["rows", "Number of rows"], ["row_names", "Row names"], ["weight", "Weight"]];
const HALL = [["aim.objective", "Make small"], ["aim.axis_on_audience", "Axis on the audience"], ["aim.lower_if_within_db", "Lower if within, dB"], ["aim.left_to_fill", "Rows left to a fill"], ["together.sum", "Sum"]];

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
  input.addEventListener("change", () => change([{ edit: "set", key: whole, typed: input.value }]));
  return node("label", {}, node("span", {}, label), input);
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
    ...HALL.map((of) => field(here.document, "", of)));
  stayOpen(whole, "whole");
  box.replaceChildren(
    ...(here.document.speaker || []).map((one) => member("speaker", one, SPEAKER)),
    ...(here.document.seating || []).map((one) => member("seating", one, ROWS)),
    ...(here.document.surface || []).map((one) => member("surface", one, [["line", "Line [x, z]"], ["absorption", "Absorption"]])),
    whole);
  if (focused) {
    const again = [...box.querySelectorAll("[data-key]")].find((one) => one.dataset.key === focused);
    if (again) again.focus({ preventScroll: true });
  }
}

function textField(key, label, value) {
  const input = node("input", { type: "text", autocomplete: "off", "data-key": key });
  input.value = value || "";
  input.addEventListener("change", () => change([{ edit: "set", key, value: input.value || null }]));
  return node("label", {}, node("span", {}, label), input);
}

/* ---- acts ------------------------------------------------------------- */

async function step(by) {
  if (here.asking) { setTimeout(() => step(by), 20); return; }
  here.waiting = null;
  clearTimeout(timers.rest);
  clearTimeout(timers.explain);
  here.number += 1;
  freshen(true);
  take(await ask("step", { number: here.number, by }));
  timers.rest = setTimeout(rest, REST_MS);
}

async function save(how) {
  const told = await ask("save", { how });
  byId("outside").hidden = !told.outside;
  byId("kept").textContent = told.refused || (told.outside ? "The file was changed by somebody else meanwhile. Nothing was written." : told.saved ? `Saved as ${told.saved}.` : "");
  if (told.file) byId("file").textContent = told.file;
  if (told.document) { take(told); timers.rest = setTimeout(rest, REST_MS); }
  if (told.unsaved !== undefined) {
    byId("unsaved").textContent = told.unsaved ? "not saved" : "saved";
    byId("save").disabled = !told.unsaved;
  }
  freshen(here.stale);
}

async function exportAll() {
  byId("export").disabled = true;
  const said = (text) => { byId("kept").textContent = text; };
  said("Drawing …");
  let told = await ask("export", { begin: true });
  const began = Date.now();
  while (told.running) {
    await new Promise((done) => { setTimeout(done, 400); });
    told = await ask("export", {});
    if (told.running) said(`Drawing … ${Math.round((Date.now() - began) / 1000)} s`);
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
  setInterval(() => { ask("alive").catch(() => shut("The program has ended.")); }, ALIVE_MS);
}

async function found(taken) {
  byId("found").hidden = true;
  here.number += 1;
  take(await ask("found", { take: taken, number: here.number }));
  timers.rest = setTimeout(rest, REST_MS);
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
  timers.rest = setTimeout(rest, REST_MS);
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
