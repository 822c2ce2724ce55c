"use strict";

/* Shows one aim at a time: everything it says is looked up in the plan. */

let plan, drawn = null;
const now = { speaker: 0, orientation: 0, tilt: 0, vertical: 0, channel: 0, heard: "alone", unit: "m" };
const PAPER = 700, SHEET = 950;
/* px of a printed page: its width, and the height that A4 and US letter both have */

const speaker = () => plan.speakers[now.speaker];
const turned = () => speaker().turned[now.orientation];
const heard = () => turned()[now.heard];
const at = (table, ...before) => look(table, ...before, now.vertical, now.tilt);
const length = (both) => lengthText(at(both[now.unit]), now.unit);
const label = (table, ...before) => plan.labels[at(table, ...before)];
const isOwn = () => {
  const own = speaker().at;
  return own.tilt === now.tilt && own.vertical === now.vertical && own.orientation === now.orientation;
};
const ownWord = () => (plan.solved ? "solved" : "given");

/* The own aim's value in the same table, to compare with. */
function atOwn(name, ...before) {
  const own = speaker().at;
  return look(speaker().turned[own.orientation][now.heard][name], ...before, own.vertical, own.tilt);
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

function goTo(place) {
  now.orientation = place.orientation;
  now.tilt = place.tilt;
  now.vertical = place.vertical;
}

function setUp() {
  const select = byId("speaker");
  plan.speakers.forEach((one, number) => select.append(new Option(one.name, number)));
  byId("speaker-box").hidden = plan.speakers.length < 2;
  select.addEventListener("change", () => choose(Number(select.value)));
  radios("unit", "unit", [["m", "metres"], ["ft", "feet"]], plan.unit, (unit) => { now.unit = unit; });
  radios("band", "band", plan.channels.map((text, number) => [number, text]), 0,
    (channel) => { now.channel = Number(channel); });
  for (const axis of ["tilt", "vertical"]) {
    const slider = byId(axis);
    slider.addEventListener("input", () => { now[axis] = Number(slider.value); show(); });
    byId(`${axis}-less`).addEventListener("click", () => step(axis, -1));
    byId(`${axis}-more`).addEventListener("click", () => step(axis, 1));
  }
  byId("back").addEventListener("click", () => { goTo(speaker().at); choose(now.speaker); });
  byId("back").textContent = `Back to the ${ownWord()} aim`;
  byId("controls").addEventListener("submit", (event) => event.preventDefault());
  byId("listening").addEventListener("submit", (event) => event.preventDefault());
  new ResizeObserver(() => { if (plan && drawn !== byId("section").clientWidth) draw(); })
    .observe(byId("section").parentElement);
  window.addEventListener("beforeprint", fitPaper);
  window.addEventListener("afterprint", leavePaper);
}

function step(axis, by) {
  const most = Number(byId(axis).max);
  now[axis] = Math.min(most, Math.max(0, now[axis] + by));
  show();
}

function choose(number) {
  now.speaker = number;
  goTo(speaker().at);
  const several = speaker().turned[0].together !== null;
  now.heard = several ? "together" : "alone";
  radios("orientation", "orientation",
    speaker().turned.map((one, place) => [place, one.orientation]), now.orientation,
    (place) => { now.orientation = Number(place); });
  radios("heard", "heard",
    several ? [["together", "all together"], ["alone", `${speaker().name} alone`]] : [],
    now.heard, (value) => { now.heard = value; });
  setSlider("tilt", speaker().tilt.length, speaker().at.tilt);
  setSlider("vertical", speaker().verticalText.length, speaker().at.vertical);
  byId("vertical-name").textContent = speaker().vertical === "trim" ? "Trim" : "Height of the acoustic centre";
  const fixed = (what) => `The file fixes this ${what}; other values only show what they would do.`;
  byId("tilt-hint").textContent = speaker().tiltGiven ? fixed("tilt") : "";
  byId("vertical-hint").textContent = speaker().verticalGiven ? fixed("height") : "";
  show();
}

function setSlider(axis, count, own) {
  byId(axis).max = count - 1;
  byId(`${axis}-box`).hidden = count < 2;
  byId(`${axis}-box`).querySelector(".own").style.left = `calc(${own / Math.max(1, count - 1)} * (100% - 1.75rem) + 0.875rem)`;
}

/* ---- words ------------------------------------------------------------ */

function show() {
  sliders();
  headline();
  hang();
  cautions();
  command();
  rowTable();
  draw();
}

function sliders() {
  const words = { tilt: speaker().tiltText[now.tilt], vertical: speaker().verticalText[now.vertical][now.unit] };
  for (const [axis, text] of Object.entries(words)) {
    byId(axis).value = now[axis];
    byId(axis).setAttribute("aria-valuetext", text);
    byId(`${axis}-words`).textContent = text;
  }
  byId("back").disabled = isOwn();
  byId("moved").textContent = isOwn() ? `This is the ${ownWord()} aim.` : movedText();
}

function movedText() {
  const here = at(heard().spread, 0), there = atOwn("spread", 0);
  if (here === plan.unknown || there === plan.unknown) return `Moved from the ${ownWord()} aim.`;
  return `Spread ${dbText(here - there, plan.unknown, true)} against the ${ownWord()} aim.`;
}

function figures() {
  const found = heard();
  const texts = [["Spread", dbText(at(found.spread, 0), plan.unknown)],
    ["worst band", dbText(at(found.worst), plan.unknown)]];
  if (at(found.within) !== plan.unknown) texts.push(["within \u00b13 dB", `${at(found.within)} % of the rows`]);
  return texts;
}

/* The same words about several loudspeakers are said once. */
function cautionList() {
  const own = turned(), told = new Map();
  for (const number of own.cautionLists[at(own.cautionList)]) {
    const one = own.cautions[number], key = `${one.severity} ${one.text}`;
    if (!told.has(key)) told.set(key, { ...one, speakers: [] });
    if (one.speaker) told.get(key).speakers.push(one.speaker);
  }
  return [...told.values()];
}

function headline() {
  const box = byId("headline");
  const parts = figures().map(([name, text]) => node("span", {}, `${name} `, node("strong", {}, text)));
  const told = cautionList(), stops = told.filter((one) => one.severity === "stop").length;
  const count = `${told.length} caution${told.length === 1 ? "" : "s"}`;
  const text = stops ? `STOP: ${stops} of ${count}` : count;
  parts.push(node("a", { href: "#cautions-title", class: stops ? "stop" : "" }, text));
  box.replaceChildren(...parts);
}

function entry(name, text) {
  return node("div", {}, node("dt", {}, name), node("dd", {}, text));
}

function hang() {
  const one = speaker(), found = turned(), listed = [];
  const add = (name, text) => listed.push(entry(name, text));
  if (plan.speakers.length > 1) add("Loudspeaker", one.name);
  add("Tilt", one.tiltText[now.tilt]);
  add("Acoustic centre", `${length(found.height)} above the datum`);
  add("Trim, lowest point", one.outline ? `${length(found.trim)} above the datum` : "unknown: no outline is given");
  add("Place", one.xText[now.unit]);
  add("Hung", `${one.mount}, ${found.orientation}`);
  const meets = at(found.aimRow) !== plan.unknown;
  add("Axis meets", meets ? `the ears of ${label(found.aimRow)}, ${length(found.throw)} away` : "no seating that it serves");
  const levels = heard(), over = now.heard === "alone" ? one.serves : "all rows";
  add(now.channel ? `Spread at ${plan.channels[now.channel]}` : "Spread", rangeText(levels));
  if (plan.speakers.length > 1) add("Over", over);
  figures().slice(1).forEach(([name, text]) => add(name[0].toUpperCase() + name.slice(1), text));
  add("Spread by band", `${plan.channels.slice(1).map((name, band) =>
    `${name} ${dbText(at(levels.spread, band + 1), plan.unknown).replace(" dB", "")}`).join(", ")} dB`);
  if (isOwn() && one.window) add("May be set", one.window[now.unit]);
  loads(found.loads, add);
  byId("hang").replaceChildren(...listed);
}

function rangeText(levels) {
  const spread = at(levels.spread, now.channel);
  if (spread === plan.unknown) return "unknown: the pattern data do not reach every row";
  return `${dbText(spread, plan.unknown)}, from ${label(levels.loudest, now.channel)} (loudest) to ${label(levels.softest, now.channel)} (softest)`;
}

function loads(found, add) {
  if (!found) { add("Loads", speaker().mount === "flown" ? "not computed" : "stands on its base"); return; }
  add("Weight, with rigging", found.weight[now.unit]);
  for (const point of found.points) {
    if (at(point.newtons) === plan.unknown) { add(`Load, ${point.name}`, "not computed"); continue; }
    let text = `${forceText(point, now.unit, now.vertical, now.tilt)} (${minus(String(at(point.share)))} % of the weight`;
    text += at(point.use) === plan.unknown || at(point.newtons) < 0 ? ")" : `, ${minus(String(at(point.use)))} % of what may be used)`;
    if (at(point.newtons) < 0) text += ": SLACK";
    add(`Load, ${point.name}`, text);
  }
}

function cautions() {
  const names = { stop: "STOP", caution: "Caution", note: "Note" };
  byId("cautions").replaceChildren(...cautionList().map((one) => {
    const whom = one.speakers.length ? `${one.speakers.join(", ")}: ` : "";
    return node("li", { class: one.severity }, node("strong", {}, names[one.severity]), ` ${whom}${one.text}`);
  }));
}

function command() {
  const found = speaker().command, parts = [found.before];
  if (found.orientation) parts.push(found.orientation[now.orientation]);
  if (found.vertical) parts.push(found.vertical[now.vertical]);
  parts.push(found.tilt[now.tilt]);
  byId("command").textContent = parts.join(" ");
}

function rowTable() {
  const found = heard();
  byId("heard-words").textContent = `${now.heard === "alone" ? `${speaker().name} alone` : "all loudspeakers together"}, re the mean over the rows`;
  if (!byId("all-rows").open) return;
  const head = node("tr", {}, node("th", { scope: "col" }, "Row"),
    ...plan.channels.map((name) => node("th", { scope: "col" }, name)));
  const body = found.rows.map((row, place) => node("tr", {},
    node("th", { scope: "row" }, rowName(row)),
    ...plan.channels.map((_, channel) => node("td", {}, dbText(at(found.level, channel, place), plan.unknown, true)))));
  byId("rows").replaceChildren(node("thead", {}, head), node("tbody", {}, ...body));
}

function rowName(row) {
  const seating = plan.house.seatings[plan.rows.seating[row]].name;
  return plan.house.seatings.length > 1 ? `${plan.rows.name[row]}, ${seating}` : plan.rows.name[row];
}

function draw(width = null) {
  drawn = byId("section").clientWidth;
  const view = viewOf(now), moved = !isOwn();
  const how = {
    width: width || byId("section").parentElement.clientWidth,
    most: width ? 26 * letter() : Math.max(170, Math.min(0.46 * window.innerHeight, 460)),
    chart: width ? 13 * letter() : 0,
    unit: now.unit, channel: now.channel, heard: heardNow(), chosen: now.speaker, extent: plan.extent,
    was: moved ? viewOf(speaker().at, true) : null, map: moved ? null : plan.map,
  };
  how.span = spanOf(viewOf(speaker().at), how);
  drawSection(byId("section"), view, how);
  drawChart(byId("chart"), view, how);
  drawKey(byId("key"), view, moved ? `axis of the ${ownWord()} aim` : "");
  sectionWords();
}

function sectionWords() {
  const found = turned();
  byId("section-words").textContent = `${speaker().name}: ${speaker().tiltText[now.tilt]}, acoustic centre ${length(found.height)} above the datum; ${at(found.aimRow) === plan.unknown ? "the axis meets no seating that it serves" : `the axis meets the ears of ${label(found.aimRow)}, ${length(found.throw)} away`}.`;
  const spread = at(heard().spread, now.channel);
  byId("chart-words").textContent = spread === plan.unknown ? "The level of some rows is unknown." :
    `${plan.channels[now.channel]}: spread ${dbText(spread, plan.unknown)}, loudest ${label(heard().loudest, now.channel)}, softest ${label(heard().softest, now.channel)}.`;
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
  now.unit = plan.unit;
  byId("live").hidden = false;
  byId("words").hidden = true;
  byId("all-rows").addEventListener("toggle", rowTable);
  setUp();
  choose(0);
}

start().catch((error) => {
  byId("live").hidden = true;
  byId("words").hidden = false;
  console.error(error);
});
