"use strict";

/* Levels at the rows, and the figures over them, as the tool has them:

     level = offset + gain + pattern(off-axis angle) - 20 lg(r / 1 m) - air - what walls take

   What walls take the tool found for each place of the lattice; a level without pattern data is NaN,
   and so is every figure over it. */

const NEAREST_M = 1e-3, WITHIN = 3, FAINTEST = 1e-30;

const wrapped = (degrees) => {
  const turned = ((((degrees + 180) % 360) + 360) % 360) - 180;
  return turned === -180 ? 180 : turned;
};

/* How many values a table (bands, rows, ...) has for each row, and which of them stands at a place. */
function placesOf({ shape }, x, vertical, tilt) {
  const [, , , heights, tilts] = shape;
  return { each: shape[2] * heights * tilts, first: (x * heights + vertical) * tilts + tilt };
}

/* The place in an ascending table before a value, and the share of the way to the next. */
function between(table, value) {
  let low = 0, high = table.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (table[middle] < value) low = middle; else high = middle;
  }
  return [low, (value - table[low]) / (table[high] - table[low])];
}

/* Where a loudspeaker is: { x, height, tilt } in metres and degrees. */
function placeOf(one, at) {
  const found = one.turned[at.orientation];
  return { x: one.x[at.x], height: look(found.heightM, at.x, at.vertical, at.tilt), tilt: one.tilt[at.tilt] };
}

const keptLevels = new Map();

/* What is heard of each loudspeaker, kept until it moves. */
function levelsAt(one, at) {
  const kept = keptLevels.get(one);
  if (kept && same(kept.at, at)) return kept.found;
  const found = levelsThere(one, at);
  keptLevels.set(one, { at: { ...at }, found });
  return found;
}

/* By band and row; and how far each row is. */
function levelsThere(one, at) {
  const { x, height, tilt } = placeOf(one, at), { orientation } = one.turned[at.orientation];
  const turn = orientation === "flipped" ? -1 : 1, rows = plan.rows.x.values.length;
  const bands = one.offset.map(() => new Float64Array(rows)), distance = new Float64Array(rows);
  const { shadow } = one.turned[at.orientation];
  const hides = shadow ? placesOf(shadow, at.x, at.vertical, Math.min(at.tilt, shadow.shape[4] - 1)) : null;
  const air = one.air.distance.values, loss = one.air.loss.values;
  const angle = one.pattern.angle.values, lobe = one.pattern.level.values, size = angle.length;
  for (let row = 0; row < rows; row += 1) {
    const dx = plan.rows.x.values[row] - x, dz = plan.rows.z.values[row] - height;
    const r = Math.max(Math.hypot(dx, dz), NEAREST_M), off = wrapped(turn * wrapped(Math.atan2(dz, dx) / TILT_OF - tilt));
    const [low, share] = between(angle, off), [far, past] = between(air, r);
    const outside = off < angle[0] || off > angle[size - 1];
    distance[row] = r;
    bands.forEach((levels, band) => {
      const before = lobe[band * size + low], after = lobe[band * size + low + 1];
      const taken = loss[band * air.length + far], more = loss[band * air.length + far + 1] - taken;
      const read = share <= 0 ? before : share >= 1 ? after : before + share * (after - before);
      const hidden = hides ? shadow.values[(band * rows + row) * hides.each + hides.first] : 0;
      levels[row] = outside ? NaN : one.offset[band] + at.gain + read - 20 * Math.log10(r) - taken - past * more - hidden;
    });
  }
  return { bands, distance };
}

const arrivalMs = (distance, at) => (1000 * distance) / plan.speed + at.delay;

/* The sum of all at every row, by band: of their energies, or with the phase that ways and delays bring. */
function summed(every, ats) {
  const sizes = new Float64Array(every.length);
  return plan.channels.slice(1).map((_, band) => Float64Array.from(every[0].bands[band], (_level, row) => {
    let loudest = -Infinity, energy = 0;
    for (const one of every) loudest = Math.max(loudest, one.bands[band][row]);
    for (let number = 0; number < sizes.length; number += 1) {
      sizes[number] = 10 ** ((every[number].bands[band][row] - loudest) / 20);
      energy += sizes[number] * sizes[number];
    }
    if (plan.coherent) {
      const alone = energy, [low, high] = plan.coherent[band];
      const arrivals = every.map((one, number) => arrivalMs(one.distance[row], ats[number]) / 1000);
      for (let a = 1; a < sizes.length; a += 1) {
        for (let b = 0; b < a; b += 1) {
          const apart = arrivals[a] - arrivals[b], ripple = Math.PI * (high - low) * apart;
          const width = ripple === 0 ? 1 : Math.sin(ripple) / ripple;
          energy += 2 * sizes[a] * sizes[b] * Math.cos(Math.PI * (low + high) * apart) * width;
        }
      }
      energy = Math.max(energy, FAINTEST * alone);
    }
    return 10 * Math.log10(energy) + loudest;
  }));
}

/* The first row that is as loud as one, so that every face names the same of two alike. */
function firstAlike(levels, one) {
  return Math.max(0, levels.findIndex((level) => Math.abs(level - levels[one]) <= plan.alike));
}

/* The figures over the rows that are judged, and, of those that are shown, the levels by channel (the
   mean of the bands first) about the channel's own weighted mean. */
function figuresOver(bands, rows, shown) {
  const every = bands.map((levels) => rows.map((row) => levels[row]));
  every.unshift(rows.map((_, place) => every.reduce((sum, levels) => sum + levels[place], 0) / bands.length));
  const weight = rows.map((row) => plan.rows.weight.values[row]), total = weight.reduce((sum, one) => sum + one, 0);
  const means = every.map((levels) => levels.reduce((sum, level, place) => sum + level * weight[place], 0) / total);
  const ends = every.map((levels) => levels.reduce(([least, most], level, place) => [
    level < levels[least] ? place : least, level > levels[most] ? place : most], [0, 0]));
  const known = every.map((levels) => levels.every(Number.isFinite));
  const spread = every.map((levels, channel) => (known[channel] ? levels[ends[channel][1]] - levels[ends[channel][0]] : NaN));
  const inside = every[0].filter((level) => Math.abs(level - means[0]) <= WITHIN).length;
  return {
    rows, means, spread, worst: Math.max(...spread.slice(1)), within: known[0] ? (100 * inside) / rows.length : NaN,
    softest: ends.map(([least], channel) => rows[firstAlike(every[channel], least)]),
    loudest: ends.map(([, most], channel) => rows[firstAlike(every[channel], most)]),
    shown, about: every.map((levels, channel) => {
      const mean = known[channel] ? means[channel] : meanOfKnown(levels, weight);
      const level = channel ? (row) => bands[channel - 1][row] : (row) => bands.reduce((sum, one) => sum + one[row], 0) / bands.length;
      return shown.map((row) => level(row) - mean);
    }),
  };
}

function meanOfKnown(levels, weight) {
  const here = levels.map((level, place) => [level, weight[place]]).filter(([level]) => Number.isFinite(level));
  return here.reduce((sum, [level, share]) => sum + level * share, 0) / here.reduce((sum, [, share]) => sum + share, 0);
}

/* Everything that is heard with all loudspeakers at these places. */
function heardAt(ats) {
  const every = plan.speakers.map((one, number) => levelsAt(one, ats[number]));
  const left = plan.speakers.map((one, number) => new Set(one.front.slice(0, ats[number].left)));
  const judged = plan.speakers.map((one, number) => one.rows.filter((row) => !left[number].has(row)));
  const kept = new Set(judged.flat()), whole = [...plan.rows.name.keys()];
  const drawn = (rows) => rows.filter((row) => plan.rows.isDrawn.has(row));
  return {
    every,
    left: new Set(left.flatMap((one) => [...one]).filter((row) => !kept.has(row))),
    alone: every.map(({ bands }, number) => figuresOver(bands, judged[number], drawn(plan.speakers[number].rows))),
    together: plan.speakers.length < 2 ? null : figuresOver(
      summed(every, ats), whole.filter((row) => kept.has(row) || !left.some((one) => one.has(row))), drawn(whole)),
  };
}
