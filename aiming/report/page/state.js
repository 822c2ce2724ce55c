"use strict";

/* Where everything stands: at every loudspeaker its orientation, x, height and tilt as places on the
   lattice, its gain and delay, and how many front rows it leaves to a fill.  The address has it too,
   so that a link shows the same; and the command line gives the same figures. */

let plan = null;
const now = { speaker: 0, channel: 0, heard: 0, unit: "m", at: [] };
const AXES = ["x", "vertical", "tilt"], STATE = [...AXES, "orientation", "gain", "delay", "left"];

const speaker = () => plan.speakers[now.speaker];
const at = () => now.at[now.speaker];
const ownAt = () => plan.speakers.map((one) => ({ ...one.own }));
const same = (one, other) => STATE.every((name) => one[name] === other[name]);
const isOwn = (number) => same(now.at[number], plan.speakers[number].own);
const anyMoved = () => plan.speakers.some((_, number) => !isOwn(number));

/* A loudspeaker at a place as its lattice has it, numbers in the order of the link. */
function numbersOf(one, place) {
  return [one.x[place.x], one.vertical[place.vertical], one.tilt[place.tilt], place.orientation, place.gain, place.delay, place.left];
}

function nearest(values, value) {
  return values.reduce((best, one, place) => (Math.abs(one - value) < Math.abs(values[best] - value) ? place : best), 0);
}

/* ---- the link --------------------------------------------------------- */

function linkText() {
  const parts = new URLSearchParams();
  plan.speakers.forEach((one, number) => {
    if (!isOwn(number)) parts.set(`at.${one.name}`, numbersOf(one, now.at[number]).map((of) => Number(of.toFixed(5))).join(","));
  });
  if (now.speaker) parts.set("speaker", speaker().name);
  if (now.unit !== plan.unit) parts.set("unit", now.unit);
  if (now.channel) parts.set("band", plan.channels[now.channel]);
  if (plan.speakers.length > 1 && now.heard !== "together") parts.set("heard", "alone");
  return parts.toString();
}

/* What a link says, as far as this page knows it; a value that it has not becomes the nearest. */
function readLink(text) {
  const parts = new URLSearchParams(text.replace(/^#/, ""));
  now.at = ownAt();
  plan.speakers.forEach((one, number) => {
    const asked = (parts.get(`at.${one.name}`) || "").split(",").map(Number);
    if (asked.length !== STATE.length || !asked.every(Number.isFinite)) return;
    const place = now.at[number], [x, vertical, tilt, orientation, gain, delay, left] = asked;
    Object.assign(place, { x: nearest(one.x, x), vertical: nearest(one.vertical, vertical), tilt: nearest(one.tilt, tilt) });
    if (one.turned[orientation]) place.orientation = orientation;
    if (one.gainRange) place.gain = Math.min(one.gainRange[1], Math.max(one.gainRange[0], gain));
    if (one.delayRange) place.delay = Math.min(one.delayRange[1], Math.max(one.delayRange[0], delay));
    place.left = Math.min(one.front.length, Math.max(0, Math.trunc(left)));
    if (same({ ...place, gain: 0, delay: 0 }, { ...one.own, gain: 0, delay: 0 }) && Math.abs(place.gain - one.own.gain) < 1e-3 && Math.abs(place.delay - one.own.delay) < 1e-3) now.at[number] = { ...one.own };
  });
  now.speaker = Math.max(0, plan.speakers.findIndex((one) => one.name === parts.get("speaker")));
  now.unit = ["m", "ft"].includes(parts.get("unit")) ? parts.get("unit") : plan.unit;
  now.channel = Math.max(0, plan.channels.indexOf(parts.get("band")));
  now.heard = plan.speakers.length > 1 && parts.get("heard") !== "alone" ? "together" : "alone";
}

/* ---- the command line ------------------------------------------------- */

const shell = (text) => (/^[\w@%+=:,./-]+$/.test(text) ? text : `'${text.replaceAll("'", `'"'"'`)}'`);
const short = (value) => String(Number(value.toFixed(5)));

function commandText() {
  const sets = [...plan.changed, ...plan.speakers.flatMap((one, number) => settingsOf(one, now.at[number], one.own))];
  const left = Math.max(...plan.speakers.map((one, number) => now.at[number].left));
  if (plan.speakers.some((one, number) => now.at[number].left !== one.own.left)) sets.push(`aim.left_to_fill=${left}`);
  return ["aiming", "evaluate", plan.file, ...sets.flatMap((one) => ["--set", one])].map(shell).join(" ");
}

/* What the file leaves open, and what is moved. */
function settingsOf(one, place, own) {
  const { key, ...open } = one.command, sets = [];
  const add = (name, free, moved, value) => { if (free || moved) sets.push(`${key}.${name}=${value}`); };
  if (open.held) {
    if (open.splay !== null) sets.push(`${key}.splay=${short(open.splay)}`);
  } else {
    add("placement.x", open.x, place.x !== own.x, `${short(one.x[place.x])} m`);
    if (!open.standing) add(`placement.${one.by}`, open.vertical, place.vertical !== own.vertical, `${short(one.vertical[place.vertical])} m`);
    add("placement.tilt", open.tilt, place.tilt !== own.tilt, short(one.tilt[place.tilt]));
    add("placement.orientation", open.orientation, false, one.turned[place.orientation].orientation);
  }
  add("gain_db", open.gain, false, short(place.gain));
  add("delay_ms", open.delay, false, short(place.delay));
  return sets;
}
