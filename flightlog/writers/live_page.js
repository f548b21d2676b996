// What the reader does: pointer, slider, stretches chosen in tables, whole flight. One pointer for all plots.

const LOOK_AHEAD = "300px"; // flights nearer to the screen than this are built
const SHORTEST_S = 10; // no stretch is shown shorter than this
const ZOOM = 2;
const DRAG_PX = 8; // less is a click

const two = (value) => String(value).padStart(2, "0");

function clockText(seconds) {
  const whole = Math.round(seconds) % 86400;
  return `${two(Math.floor(whole / 3600))}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

function figureText(value, decimals, unit) {
  if (Number.isNaN(value)) return "\u2013";
  const text = value.toFixed(decimals).replace(/^-(?=[0.]*$)/, "").replace("-", "\u2212");
  return `${text}\u00a0${unit}`;
}

function liveFlight(box) {
  const flight = JSON.parse(document.getElementById(box.dataset.fixes).textContent);
  flight.moment = (seconds) => (flight.clock_s + seconds) * 1000; // the reader's clock as Bokeh counts it
  const fixes = fixesOf(flight);
  const end = fixes.time[fixes.count - 1];
  const part = (name) => box.querySelector(`[data-part="${name}"]`);
  const holders = { track: part("track"), altitude: part("altitude"), climb: part("climb") };
  const slider = part("slider");
  const phaseNames = JSON.parse(box.dataset.phases);
  const views = {};
  let plots = null;
  let shown = { from: 0, to: end }; // seconds
  let at = 0; // the fix pointed at
  let isPlaying = false;
  let frame = 0;
  const waiting = { pointer: false, plots: false };

  // All that changes on the screen changes in one frame.
  function ask(what) {
    waiting[what] = true;
    frame = frame || requestAnimationFrame(paint);
  }

  function paint() {
    frame = 0;
    if (!isReady()) return; // building anew ends with both
    if (waiting.plots) fill();
    if (waiting.pointer || waiting.plots) point();
    waiting.plots = waiting.pointer = false;
  }

  async function build() {
    for (const name of Object.keys(views)) delete views[name];
    const look = colours();
    plots = {
      altitude: timePlot(flight, look, `altitude (${flight.height_unit})`, false),
      climb: timePlot(flight, look, `vertical speed (${flight.vertical_unit})`, true),
      track: trackPlot(flight, look),
    };
    fill(); // so that nothing is painted twice
    await Promise.all(Object.entries(holders).map(async ([name, holder]) => {
      const canvas = holder.querySelector(".canvas");
      canvas.replaceChildren();
      views[name] = await Bokeh.Plotting.show(plots[name].figure, canvas);
    }));
    fill();
    point();
    box.dataset.state = "ready";
  }

  // The room of a plot; before its first painting as good as its holder's.
  const frameOf = (name) => (views[name] ? views[name].frame.bbox : { width: holders[name].clientWidth, height: holders[name].clientHeight });

  function fill() {
    const from = Math.max(firstAfter(fixes.time, shown.from), 0);
    const to = Math.min(Math.max(firstAfter(fixes.time, shown.to + 1e-6) - 1, from), fixes.count - 1);
    const stretch = { ...shown, width: frameOf("altitude").width };
    for (const name of ["altitude", "climb"]) fillTime(plots[name], flight, fixes, fixes[name], from, to, stretch);
    const perPixel = fitTrack(from, to);
    fillTrack(plots.track, flight, fixes, from, to, perPixel);
    const isWhole = shown.from <= 0 && shown.to >= end;
    part("whole").disabled = isWhole;
    part("wider").disabled = isWhole;
    for (const name of ["altitude", "climb"]) holders[name].querySelector(".line").style.height = `${frameOf(name).height}px`;
    part("stretch").textContent = `${clockText(flight.clock_s + shown.from)} to ${clockText(flight.clock_s + shown.to)}`;
  }

  // Equal scales, so that what is shown fills the plot; gives the units of one pixel.
  function fitTrack(from, to) {
    let [west, east, south, north] = [Infinity, -Infinity, Infinity, -Infinity];
    for (let one = from; one <= to; one += 1) {
      west = Math.min(west, fixes.east[one]);
      east = Math.max(east, fixes.east[one]);
      south = Math.min(south, fixes.north[one]);
      north = Math.max(north, fixes.north[one]);
    }
    const { width, height } = frameOf("track");
    const perPixel = Math.max((east - west) / width, (north - south) / height, 1e-4) * (1 + 2 * ROOM);
    const middle = { x: (west + east) / 2, y: (south + north) / 2 };
    plots.track.x_range.setv({ start: middle.x - (perPixel * width) / 2, end: middle.x + (perPixel * width) / 2 });
    plots.track.y_range.setv({ start: middle.y - (perPixel * height) / 2, end: middle.y + (perPixel * height) / 2 });
    drawScale(perPixel);
    const corner = { x: middle.x - (perPixel * width) / 2, y: middle.y + (perPixel * height) / 2 };
    if (flight.tiles) layTiles(part("tiles"), flight.tiles, corner, perPixel, width, height);
    return perPixel;
  }

  function drawScale(perPixel) {
    const longest = 120 * perPixel;
    const power = 10 ** Math.floor(Math.log10(longest));
    const length = [5, 2, 1].map((step) => step * power).find((step) => step <= longest * (1 + 1e-9));
    part("scale").style.width = `${length / perPixel}px`;
    const isShort = flight.distance_unit === "km" && length < 1;
    part("scale").textContent = isShort
      ? `${Math.round(length * 1000)}\u00a0m`
      : `${Number(length.toPrecision(3))}\u00a0${flight.distance_unit}`;
  }

  function place(holder, selector, x, y) {
    holder.querySelector(selector).style.transform = `translate(${x}px, ${y}px)`;
  }

  // The pointer alone: one transform an element, no plot is painted.
  function point() {
    const moment = flight.moment(fixes.time[at]);
    for (const name of ["altitude", "climb"]) {
      const { frame: own } = views[name];
      const x = own.x_scale.compute(moment);
      const y = own.y_scale.compute(fixes[name][at]);
      const isIn = x >= own.bbox.left - 1 && x <= own.bbox.right + 1;
      holders[name].classList.toggle("off", !isIn);
      place(holders[name], ".line", x, own.bbox.top);
      place(holders[name], ".dot", x, Number.isNaN(y) ? -99 : y);
    }
    const track = views.track.frame;
    const [x, y] = [track.x_scale.compute(fixes.east[at]), track.y_scale.compute(fixes.north[at])];
    const isIn = x >= track.bbox.left && x <= track.bbox.right && y >= track.bbox.top && y <= track.bbox.bottom;
    holders.track.classList.toggle("off", !isIn);
    place(holders.track, ".dot", x, y);
    tell();
  }

  function tell() {
    const told = {
      time: clockText(flight.clock_s + fixes.time[at]),
      "told-altitude": figureText(fixes.altitude[at], 0, flight.height_unit),
      "told-climb": figureText(fixes.climb[at], flight.vertical_unit === "m/s" ? 1 : 0, flight.vertical_unit),
      "told-speed": figureText(fixes.ground_speed[at], 0, flight.speed_unit),
      phase: fixes.phase[at] < 0 ? "\u2013" : phaseNames[flight.phases[fixes.phase[at]].kind],
    };
    for (const [name, text] of Object.entries(told)) {
      const element = part(name);
      if (element.textContent !== text) element.textContent = text;
    }
    if (document.activeElement !== slider || !isPlaying) slider.value = fixes.time[at];
    slider.setAttribute("aria-valuetext", Object.values(told).join(", "));
  }

  function pointAt(fix) {
    at = fix;
    ask("pointer");
  }

  function show(from, to) {
    const length = Math.min(Math.max(to - from, SHORTEST_S), end);
    const start = Math.min(Math.max((from + to - length) / 2, 0), end - length);
    shown = { from: start, to: start + length };
    ask("plots");
  }

  function choose(from, to) {
    const room = Math.max(to - from, SHORTEST_S) * ROOM;
    pointAt(Math.min(firstAfter(fixes.time, from), fixes.count - 1));
    show(from - room, to + room);
  }

  function zoomAbout(factor, moment) {
    const share = (moment - shown.from) / (shown.to - shown.from);
    const length = (shown.to - shown.from) * factor;
    show(moment - share * length, moment + (1 - share) * length);
  }

  const isReady = () => Object.keys(views).length === 3; // not while it is built anew in other colours

  const momentUnder = (name, event) => {
    const x = event.clientX - holders[name].getBoundingClientRect().left;
    return views[name].frame.x_scale.invert(x) / 1000 - flight.clock_s;
  };

  function followTime(name) {
    const holder = holders[name];
    const chosen = holder.querySelector(".chosen");
    let begin = null; // where a drag with the mouse began
    holder.addEventListener("pointermove", (event) => {
      if (!isReady()) return;
      pointAt(fixAt(fixes, momentUnder(name, event)));
      if (begin === null) return;
      const x = event.clientX - holder.getBoundingClientRect().left;
      chosen.style.transform = `translateX(${Math.min(begin.x, x)}px)`;
      chosen.style.width = `${Math.abs(x - begin.x)}px`;
    });
    holder.addEventListener("pointerdown", (event) => {
      if (!isReady()) return;
      if (event.pointerType === "touch") return pointAt(fixAt(fixes, momentUnder(name, event)));
      begin = { x: event.clientX - holder.getBoundingClientRect().left, moment: momentUnder(name, event) };
      holder.setPointerCapture(event.pointerId);
    });
    const finish = (event) => {
      if (begin === null || !isReady()) return;
      const x = event.clientX - holder.getBoundingClientRect().left;
      const moment = momentUnder(name, event);
      if (event.type === "pointerup" && Math.abs(x - begin.x) > DRAG_PX) {
        show(Math.min(begin.moment, moment), Math.max(begin.moment, moment));
      }
      begin = null;
      chosen.style.width = 0;
    };
    holder.addEventListener("pointerup", finish);
    holder.addEventListener("pointercancel", finish);
    holder.addEventListener("dblclick", () => show(0, end));
    holder.addEventListener("wheel", (event) => {
      if (!event.ctrlKey || !isReady()) return; // the page scrolls as usual
      event.preventDefault();
      zoomAbout(event.deltaY < 0 ? 1 / 1.3 : 1.3, momentUnder(name, event));
    }, { passive: false });
  }

  function followTrack() {
    const holder = holders.track;
    const follow = (event) => {
      if (!isReady()) return;
      const box = holder.getBoundingClientRect();
      const { x_scale, y_scale } = views.track.frame;
      const from = firstAfter(fixes.time, shown.from);
      const to = Math.min(firstAfter(fixes.time, shown.to), fixes.count - 1);
      pointAt(fixNear(fixes, x_scale.invert(event.clientX - box.left), y_scale.invert(event.clientY - box.top), from, to));
    };
    holder.addEventListener("pointermove", follow);
    holder.addEventListener("pointerdown", follow);
    holder.addEventListener("dblclick", () => show(0, end));
    holder.addEventListener("wheel", (event) => {
      if (!event.ctrlKey) return;
      event.preventDefault();
      zoomAbout(event.deltaY < 0 ? 1 / 1.3 : 1.3, fixes.time[at]);
    }, { passive: false });
  }

  function play(isOn) {
    isPlaying = isOn;
    part("play").textContent = isOn ? "Pause" : "Play";
    if (!isOn) return;
    if (at >= fixes.count - 1 || fixes.time[at] < shown.from || fixes.time[at] >= shown.to) {
      pointAt(Math.min(firstAfter(fixes.time, shown.from), fixes.count - 1));
    }
    let moment = fixes.time[at];
    let last = performance.now();
    const step = (now) => {
      if (!isPlaying) return;
      moment = Math.min(moment + ((now - last) / 1000) * Number(part("pace").value), Math.min(shown.to, end));
      last = now;
      pointAt(Math.max(firstAfter(fixes.time, moment + 1e-6) - 1, 0));
      if (moment >= Math.min(shown.to, end)) return play(false);
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  function listen() {
    followTime("altitude");
    followTime("climb");
    followTrack();
    slider.max = Math.ceil(end);
    slider.addEventListener("input", () => {
      play(false);
      const moment = Number(slider.value);
      pointAt(fixAt(fixes, moment));
      if (moment < shown.from || moment > shown.to) show(0, end);
    });
    part("play").addEventListener("click", () => play(!isPlaying));
    part("whole").addEventListener("click", () => show(0, end));
    part("closer").addEventListener("click", () => zoomAbout(1 / ZOOM, fixes.time[at]));
    part("wider").addEventListener("click", () => zoomAbout(ZOOM, fixes.time[at]));
    new ResizeObserver(() => ask("plots")).observe(box);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", build);
  }

  return build().then(() => {
    listen();
    return { choose: (from, to) => choose(from - flight.start_s, to - flight.start_s) };
  });
}

// Builds a flight once: the first at once, others when they come near the screen or a row of their tables is chosen.
function whenNeeded(section, number) {
  const box = section.querySelector(".live");
  if (!box) return;
  let made = null;
  const make = () => {
    if (made) return made;
    box.hidden = false;
    section.classList.add("is-live");
    made = liveFlight(box);
    return made;
  };
  const watch = new IntersectionObserver((seen) => {
    if (!seen.some((one) => one.isIntersecting)) return;
    watch.disconnect();
    make();
  }, { rootMargin: LOOK_AHEAD });
  if (number === 0) make();
  else watch.observe(section);
  const chooseRow = async (row) => {
    const flight = await make();
    section.querySelectorAll("tr.is-chosen").forEach((one) => one.classList.remove("is-chosen"));
    row.classList.add("is-chosen");
    flight.choose(Number(row.dataset.from), Number(row.dataset.to));
  };
  section.querySelectorAll("tr[data-from]").forEach((row) => {
    const head = row.cells[0];
    const button = document.createElement("button");
    button.type = "button";
    button.className = "choose";
    button.append(...head.childNodes);
    button.setAttribute("aria-label", `${row.dataset.name}, show in the charts`);
    head.append(button);
    button.addEventListener("click", async () => {
      await chooseRow(row);
      box.scrollIntoView({ block: "nearest" });
    });
  });
  section.querySelectorAll(".findings a").forEach((link) => { // its evidence, in the charts as well
    const row = document.getElementById(link.hash.slice(1));
    if (row && row.dataset.from) link.addEventListener("click", () => chooseRow(row));
  });
}

document.querySelectorAll("section.flight").forEach(whenNeeded);
