// The fixes of a flight: unpacked, searched, and thinned to what a screen can show.

function unpack(packed) {
  const bytes = Uint8Array.from(atob(packed.data), (letter) => letter.charCodeAt(0));
  const steps = packed.bits === 16 ? new Int16Array(bytes.buffer) : new Int32Array(bytes.buffer);
  const values = new Float64Array(steps.length);
  let sum = packed.first;
  for (let at = 0; at < steps.length; at += 1) {
    sum += steps[at];
    values[at] = sum * packed.step;
  }
  for (let at = 0; at < packed.holes.length; at += 2) values.fill(NaN, packed.holes[at], packed.holes[at + 1]);
  return values;
}

function fixesOf(flight) {
  const fixes = {};
  for (const name of ["time", "east", "north", "altitude", "climb", "ground_speed"]) fixes[name] = unpack(flight[name]);
  fixes.count = fixes.time.length;
  fixes.phase = new Int16Array(fixes.count).fill(-1); // index of the phase of each fix
  flight.phases.forEach((phase, number) => {
    for (let at = firstAfter(fixes.time, phase.start - 0.05); at < fixes.count && fixes.time[at] <= phase.end; at += 1) {
      fixes.phase[at] = number;
    }
  });
  fixes.breaks = new Uint8Array(fixes.count); // 1: the recorder was silent after this fix
  flight.gaps.forEach((at) => { fixes.breaks[at] = 1; });
  return fixes;
}

// The first fix at or after a moment; their number where there is none.
function firstAfter(times, moment) {
  let low = 0;
  let high = times.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (times[middle] < moment) low = middle + 1;
    else high = middle;
  }
  return low;
}

// The fix nearest to a moment.
function fixAt(fixes, moment) {
  const after = Math.min(firstAfter(fixes.time, moment), fixes.count - 1);
  const before = Math.max(after - 1, 0);
  return moment - fixes.time[before] < fixes.time[after] - moment ? before : after;
}

// The fix nearest to a place, among those from one to another.
function fixNear(fixes, east, north, from, to) {
  let best = from;
  let least = Infinity;
  for (let at = from; at <= to; at += 1) {
    const across = fixes.east[at] - east;
    const up = fixes.north[at] - north;
    const square = across * across + up * up;
    if (square < least) {
      least = square;
      best = at;
    }
  }
  return best;
}

// Fixes of a curve over time that show: of each of so many columns the first, the lowest, the highest and the last.
function shownOverTime(fixes, values, from, to, columns) {
  const x = [];
  const y = [];
  const add = (at) => {
    x.push(fixes.time[at]);
    y.push(values[at]);
  };
  const start = fixes.time[from];
  const width = Math.max(fixes.time[to] - start, 1e-9) / columns;
  let at = from;
  while (at <= to) {
    const column = Math.floor((fixes.time[at] - start) / width);
    let low = at;
    let high = at;
    let last = at;
    while (last <= to && Math.floor((fixes.time[last] - start) / width) === column) {
      if (values[last] < values[low] || Number.isNaN(values[low])) low = last;
      if (values[last] > values[high] || Number.isNaN(values[high])) high = last;
      if (fixes.breaks[last]) break;
      last += 1;
    }
    const isBroken = last <= to && fixes.breaks[last] === 1;
    const end = isBroken ? last : last - 1;
    for (const one of new Set([at, Math.min(low, high), Math.max(low, high), end])) add(one);
    if (isBroken) {
      x.push(NaN);
      y.push(NaN);
    }
    at = end + 1;
  }
  return { x, y };
}

// The track in so many lines, a kind of phase each: points nearer together than `finest` are drawn as one.
function shownTrack(fixes, flight, from, to, finest) {
  const lines = {};
  let kind = null;
  let line = null;
  let east = 0;
  let north = 0;
  const add = (at) => {
    line.x.push((east = fixes.east[at]));
    line.y.push((north = fixes.north[at]));
  };
  for (let at = from; at <= to; at += 1) {
    const phase = fixes.phase[at];
    const own = phase < 0 ? "search" : flight.phases[phase].kind;
    if (own !== kind) {
      if (line) add(at); // up to the first fix of what comes next
      kind = own;
      line = lines[kind] = lines[kind] || { x: [], y: [] };
      if (line.x.length) {
        line.x.push(NaN);
        line.y.push(NaN);
      }
      add(at);
    } else if (at === to || fixes.breaks[at] || Math.abs(fixes.east[at] - east) + Math.abs(fixes.north[at] - north) > finest) {
      add(at);
    }
    if (fixes.breaks[at]) kind = line = null;
  }
  return lines;
}
