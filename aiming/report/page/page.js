"use strict";

/* Shows every loudspeaker at one place: lengths, loads and cautions are looked up, levels are summed. */

let drawn = null, heardNow = null, heardOwn = null, ownView = null;
const PAPER = 700, SHEET = 950;
/* px of a printed page: its width, and the height that A4 and US letter both have */

const turned = () => speaker().turned[at().orientation];
const there = (table, ...before) => look(table, ...before, at().x, at().vertical, at().tilt);
const length = (both) => lengthText(there(both[now.unit]), now.unit);
const several = () => plan.speakers.length > 1;
const whole = () => several() && now.heard === "together";
const found = (from) => (whole() ? from.together : from.alone[now.speaker]);
const ownWord = () => (plan.solved ? "solved" : "given");

function rowText(row) {
  const { seatings } = plan.house;
  return `row ${plan.rows.name[row]}${seatings.length > 1 ? ` of ${seatings[plan.rows.seating[row]].name}` : ""}`;
}

/* ---- choices ---------------------------------------------------------- */

function radios(box, name, options, chosen, choose) {
  const set = byId(box);
  set.querySelectorAll("label").forEach((one) => one.remove());
  options.forEach(([value, text]) => {
    const input = node("input", { type: "radio", name, value });
    input.checked = String(chosen) === String(value);
    input.addEventListener("change", () => { choose(value); show(); });
    set.append(node("label", {}, input, node("span", {}, text)));
  });
  set.hidden = options.length < 2;
}

/* What slides: how many steps it has or its range, what it is called, which loudspeakers have it. */
const SLIDES = {
  x: { steps: () => speaker().x.length, text: () => speaker().xText[at().x][now.unit] },
  vertical: { steps: () => speaker().vertical.length, text: () => speaker().verticalText[at().vertical][now.unit] },
  tilt: { steps: () => speaker().tilt.length, text: () => speaker().tiltText[at().tilt] },
  gain: { range: () => speaker().gainRange, step: 0.1, press: 0.5, text: () => dbText(at().gain, true) },
  delay: { range: () => speaker().delayRange, step: 0.1, press: 1, text: () => `${at().delay.toFixed(1)} ms` },
};

function setUp() {
  const select = byId("speaker");
  plan.speakers.forEach((one, number) => select.append(new Option(one.name, number)));
  byId("speaker-box").hidden = !several();
  select.addEventListener("change", () => { now.speaker = Number(select.value); chosen(); });
  for (const axis of Object.keys(SLIDES)) {
    byId(axis).addEventListener("input", () => slide(axis, Number(byId(axis).value)));
    byId(`${axis}-less`).addEventListener("click", () => slide(axis, at()[axis] - (SLIDES[axis].press || 1)));
    byId(`${axis}-more`).addEventListener("click", () => slide(axis, at()[axis] + (SLIDES[axis].press || 1)));
  }
  byId("back").addEventListener("click", () => { now.at = ownAt(); chosen(); });
  byId("back").textContent = `Back to the ${ownWord()} aim`;
  byId("share").addEventListener("click", share);
  for (const form of ["controls", "listening"]) byId(form).addEventListener("submit", (event) => event.preventDefault());
  new ResizeObserver(() => { if (plan && drawn !== byId("section").clientWidth) draw(); })
    .observe(byId("section").parentElement);
  window.addEventListener("beforeprint", fitPaper);
  window.addEventListener("afterprint", leavePaper);
  window.addEventListener("hashchange", () => { readLink(location.hash); chosen(); });
}

function slide(axis, value) {
  const { steps, range } = SLIDES[axis];
  const [low, high] = steps ? [0, steps() - 1] : range();
  at()[axis] = Math.min(high, Math.max(low, steps ? value : Math.round(value * 10) / 10));
  show();
}

/* Everything that goes with which loudspeaker is chosen. */
function chosen() {
  byId("speaker").value = now.speaker;
  radios("unit", "unit", [["m", "metres"], ["ft", "feet"]], now.unit, (unit) => { now.unit = unit; });
  radios("band", "band", plan.channels.map((text, number) => [number, text]), now.channel,
    (channel) => { now.channel = Number(channel); });
  radios("orientation", "orientation",
    speaker().turned.map((one, place) => [place, one.orientation]), at().orientation,
    (place) => { at().orientation = Number(place); });
  radios("heard", "heard",
    several() ? [["together", "all together"], ["alone", `${speaker().name} by itself`]] : [],
    now.heard, (value) => { now.heard = value; });
  for (const [axis, { steps, range, step: fine }] of Object.entries(SLIDES)) {
    const [low, high] = steps ? [0, steps() - 1] : range() || [0, 0], own = speaker().own[axis];
    Object.assign(byId(axis), { min: low, max: high, step: fine || 1 });
    byId(`${axis}-box`).hidden = high <= low;
    byId(`${axis}-box`).querySelector(".own").style.left = `calc(${(own - low) / Math.max(1e-9, high - low)} * (100% - 1.75rem) + 0.875rem)`;
  }
  const still = !Object.keys(SLIDES).some((axis) => !byId(`${axis}-box`).hidden);
  byId("still").hidden = !still;
  byId("still").textContent = still ? `This page cannot move ${speaker().name}, since a pair that hangs together keeps its place here. To try another place, put it into the file and run aiming solve again, or drag in aiming live.` : "";
  byId("vertical-name").textContent = speaker().by === "trim" ? "Trim" : "Height of the acoustic centre";
  const fixed = (what) => `The file fixes this ${what}; other values only show what they would do.`;
  byId("tilt-hint").textContent = speaker().tiltGiven ? fixed("tilt") : "";
  byId("vertical-hint").textContent = speaker().verticalGiven ? fixed("height") : "";
  choices();
  show();
}

/* Other decisions, each a button that goes there; those that need another box are told in words. */
function choices() {
  const offered = [...speaker().choices, ...plan.choices], list = byId("choice-list");
  byId("choices-box").hidden = !offered.length;
  list.replaceChildren(...offered.map((one) => {
    const told = node("span", { class: "hint" }, one.text);
    if (!one.at) return node("li", {}, one.name, told, node("code", {}, one.set));
    const button = node("button", { type: "button" }, one.name);
    button.addEventListener("click", () => {
      Object.assign(at(), speaker().own, one.at);
      chosen();
    });
    return node("li", {}, button, told);
  }));
}

/* The address keeps the state, so that it can be sent on; not every viewer lets a page do so. */
function keepLink() {
  const text = linkText();
  try {
    history.replaceState(null, "", text ? `#${text}` : location.href.split("#")[0]);
  } catch { /* the button still gives the link */ }
}

async function share() {
  const link = `${location.href.split("#")[0]}#${linkText()}`;
  try {
    await navigator.clipboard.writeText(link);
    byId("shared").textContent = "The link is copied.";
  } catch {
    byId("shared").textContent = link;
  }
}

/* ---- words ------------------------------------------------------------ */

function show() {
  heardNow = heardAt(now.at);
  draw();  // first: it asks how wide the page is, which is known until something on it changes
  sliders();
  headline();
  hang();
  cautions();
  byId("command").textContent = commandText();
  rowTable();
  keepLink();
}

function sliders() {
  for (const [axis, { steps, range, text }] of Object.entries(SLIDES)) {
    if (!steps && !range()) continue;
    byId(axis).value = at()[axis];
    byId(axis).setAttribute("aria-valuetext", text());
    byId(`${axis}-words`).textContent = text();
  }
  byId("delay-hint").textContent = speaker().handover ? arrivalText(speaker().handover) : "";
  byId("back").disabled = !anyMoved();
  byId("moved").textContent = anyMoved() ? movedText() : `This is the ${ownWord()} aim.`;
  byId("shared").textContent = "";
}

/* When a fill arrives, against what it fills, at the row where both join. */
function arrivalText({ main, row }) {
  const [own, other] = [now.speaker, main].map((number) => arrivalMs(heardNow.every[number].distance[row], now.at[number]));
  const after = own - other;
  return `arrives ${Math.abs(after).toFixed(1)} ms ${after < 0 ? "before" : "after"} ${plan.speakers[main].name} at ${rowText(row)}`;
}

function movedText() {
  const here = found(heardNow).spread[0], was = found(heardOwn).spread[0];
  if (!Number.isFinite(here) || !Number.isFinite(was)) return `Moved from the ${ownWord()} aim.`;
  return `Spread ${dbText(here - was, true)} against the ${ownWord()} aim.`;
}

const withinText = (figures) => (Number.isFinite(figures.within) ? `${figures.within.toFixed(0)} %` : "unknown");

/* The same words about several loudspeakers are said once. */
function cautionList() {
  const own = turned(), told = new Map();
  for (const number of own.cautionLists[there(own.cautionList)]) {
    const one = own.cautions[number], key = `${one.severity} ${one.text}`;
    if (!told.has(key)) told.set(key, { ...one, speakers: [] });
    if (one.speaker) told.get(key).speakers.push(one.speaker);
  }
  return [...told.values()];
}

/* Cautions were found with one loudspeaker moved, gains, delays and rows left as solved; how fills
   join was looked at for the own aim alone. */
function cautionsHold() {
  if (plan.fills && anyMoved()) return false;
  const others = plan.speakers.some((_, number) => number !== now.speaker && !isOwn(number));
  return !others && ["gain", "delay", "left"].every((name) => at()[name] === speaker().own[name]);
}

function headline() {
  const figures = found(heardNow), told = cautionList();
  const parts = [["Spread", dbText(figures.spread[0])], ["worst band", dbText(figures.worst)], ["rows within \u00b13 dB", withinText(figures)]]
    .map(([name, text]) => node("span", {}, `${name} `, node("strong", {}, text)));
  if (several()) parts.unshift(node("span", { class: "whose" }, whole() ? "All together:" : `${speaker().name} by itself:`));
  const number = (severity) => told.filter((one) => one.severity === severity).length;
  const stops = number("stop"), count = (of, name) => `${of} ${name}${of === 1 ? "" : "s"}`;
  const text = `${stops ? count(stops, "STOP") : "no stops"}, ${count(number("caution"), "caution")}, ${count(number("note"), "note")}`;
  parts.push(node("a", { href: "#cautions-title", class: stops ? "stop" : "" }, text));
  byId("headline").replaceChildren(...parts);
}

function entry(name, text) {
  return node("div", {}, node("dt", {}, name), node("dd", {}, text));
}

function hang() {
  const one = speaker(), here = turned(), listed = [];
  const add = (name, text) => listed.push(entry(name, text));
  if (several()) {
    evenness(add, "All together", heardNow.together);
    evenness(add, `${one.name} by itself`, heardNow.alone[now.speaker]);
    add("Loudspeaker", one.name);
  } else {
    evenness(add, "Spread", heardNow.alone[0]);
  }
  add("Tilt", one.tiltText[at().tilt]);
  add("Acoustic centre", `${length(here.height)} above the datum`);
  add("Trim, lowest point", one.outline ? `${length(here.trim)} above the datum` : "unknown: no outline is given");
  add("Place", one.xText[at().x][now.unit]);
  add("Hung", `${one.mount}, ${here.orientation}`);
  if (several()) add("Gain, delay", `${dbText(at().gain, true)}, ${at().delay.toFixed(1)} ms`);
  const meets = there(here.aimRow) !== plan.unknown;
  add("Axis meets", meets ? `the ears of ${rowText(there(here.aimRow))}, ${length(here.throw)} away` : "no seating that it serves");
  if (!anyMoved() && one.window) add("Set within", one.window[now.unit]);
  loads(here.loads, add);
  byId("hang").replaceChildren(...listed);
}

function evenness(add, name, figures) {
  add(name, rangeText(figures));
  add("Worst band", dbText(figures.worst));
  add("Within \u00b13 dB", Number.isFinite(figures.within) ? `${withinText(figures)} of the rows` : "unknown");
  add("By band", `${plan.channels.slice(1).map((band, place) => `${band} ${dbText(figures.spread[place + 1]).replace(" dB", "")}`).join(", ")} dB`);
}

function rangeText(figures) {
  const channel = now.channel, spread = figures.spread[channel];
  if (!Number.isFinite(spread)) return "unknown: the pattern data do not reach every row";
  const band = channel ? ` at ${plan.channels[channel]}` : "";
  return `${dbText(spread)}${band}, from ${rowText(figures.loudest[channel])} (loudest) to ${rowText(figures.softest[channel])} (softest)`;
}

function loads(held, add) {
  if (!held) { add("Loads", speaker().mount === "flown" ? "not computed" : "stands on its base"); return; }
  add("Weight, with rigging", held.weight[now.unit]);
  for (const point of held.points) {
    if (there(point.share) === plan.unknown) { add(`Load, ${point.name}`, "not computed"); continue; }
    const slack = there(point.mass[now.unit]) < 0;
    let text = `${massText(point, now.unit, at().x, at().vertical, at().tilt)} (${minus(String(there(point.share)))} % of the weight`;
    text += there(point.use) === plan.unknown || slack ? ")" : `, ${minus(String(there(point.use)))} % of the allowed load)`;
    add(`Load, ${point.name}`, slack ? `${text}: SLACK` : text);
  }
}

function cautions() {
  const names = { stop: "STOP", caution: "Caution", note: "Note" };
  const told = cautionList().map((one) => {
    const whom = one.speakers.length ? `${one.speakers.join(", ")}: ` : "";
    return node("li", { class: one.severity }, node("strong", {}, names[one.severity]), ` ${whom}${one.text}`);
  });
  if (!cautionsHold()) {
    const text = ` Not all of these are about what is shown: ${several() ? "how the loudspeakers join, and " : ""}what a moved gain, delay or row changes, was looked at for the ${ownWord()} aim alone. The command line below tells what holds here.`;
    told.unshift(node("li", { class: "caution" }, node("strong", {}, "Caution"), text));
  }
  byId("cautions").replaceChildren(...told);
}

function rowTable() {
  const figures = found(heardNow);
  byId("heard-words").textContent = `${whole() ? "all loudspeakers together" : several() ? `${speaker().name} by itself` : ""}${several() ? ", " : ""}against the mean over the rows`;
  if (!byId("all-rows").open) return;
  const head = node("tr", {}, node("th", { scope: "col" }, "Row"),
    ...plan.channels.map((name) => node("th", { scope: "col" }, name)));
  const body = figures.shown.map((row, place) => node("tr", {},
    node("th", { scope: "row" }, rowName(row)),
    ...plan.channels.map((_, channel) => node("td", {}, dbText(figures.about[channel][place], true)))));
  byId("rows").replaceChildren(node("thead", {}, head), node("tbody", {}, ...body));
}

function rowName(row) {
  const seating = plan.house.seatings[plan.rows.seating[row]].name;
  return plan.house.seatings.length > 1 ? `${plan.rows.name[row]}, ${seating}` : plan.rows.name[row];
}

function draw(width = null) {
  drawn = byId("section").clientWidth;
  const view = viewOf(now.at, heardNow), own = ownView, moved = anyMoved();
  const how = {
    width: width || byId("section").parentElement.clientWidth,
    most: width ? 26 * letter() : Math.max(170, Math.min(0.46 * window.innerHeight, 460)),
    chart: width ? 13 * letter() : 0,
    unit: now.unit, channel: now.channel, heard: whole() ? "together" : now.speaker, chosen: now.speaker, extent: plan.extent,
    was: moved ? { ...own, speakers: own.speakers.filter((_, number) => !isOwn(number)) } : null,
    map: moved || (several() && !whole()) ? null : mapOf(now.channel),
  };
  how.span = spanOf(own, how);
  drawSection(byId("section"), view, how);
  drawChart(byId("chart"), view, { ...how, was: moved ? own : null });
  drawKey(byId("key"), view, moved ? `axis of the ${ownWord()} aim` : "");
  sectionWords();
}

/* The own aim's levels in one channel, about the mean over the rows. */
function mapOf(channel) {
  const [columns, lines] = plan.map.size, size = columns * lines, mean = found(heardOwn).means[channel] / plan.map.step;
  const level = plan.map.level.values.subarray(channel * size, (channel + 1) * size);
  return { ...plan.map, level: Array.from(level, (one) => (one === plan.unknown ? null : one - mean)) };
}

function sectionWords() {
  const here = turned(), figures = found(heardNow), spread = figures.spread[now.channel];
  byId("section-words").textContent = `${speaker().name}: ${speaker().tiltText[at().tilt]}, acoustic centre ${length(here.height)} above the datum; ${there(here.aimRow) === plan.unknown ? "the axis meets no seating that it serves" : `the axis meets the ears of ${rowText(there(here.aimRow))}, ${length(here.throw)} away`}.`;
  byId("chart-words").textContent = Number.isFinite(spread)
    ? `${plan.channels[now.channel]}: spread ${dbText(spread)}, loudest ${rowText(figures.loudest[now.channel])}, softest ${rowText(figures.softest[now.channel])}.`
    : "The level of some rows is unknown.";
}

/* Letters and drawings just small enough for one sheet of A4 or US letter. */
function fitPaper() {
  const root = document.documentElement;
  root.classList.add("paper");
  for (let size = 14; size >= 5; size -= 0.5) {
    root.style.fontSize = `${size}px`;
    draw(PAPER);
    if (document.body.scrollHeight <= SHEET) break;
  }
}

function leavePaper() {
  document.documentElement.classList.remove("paper");
  document.documentElement.style.fontSize = "";
  draw();
}

/* ---- start ------------------------------------------------------------ */

async function start() {
  plan = await readPlan(byId("plan").textContent);
  plan.rows.isDrawn = new Set(plan.rows.drawn);
  readLink(location.hash);
  heardOwn = heardAt(ownAt());
  ownView = viewOf(ownAt(), heardOwn);
  byId("live").hidden = false;
  byId("words").hidden = true;
  byId("all-rows").addEventListener("toggle", rowTable);
  setUp();
  chosen();
}

start().catch((error) => {
  byId("live").hidden = true;
  byId("words").hidden = false;
  console.error(error);
});
