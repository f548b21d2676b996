"use strict";
(function () {
  const race = JSON.parse(document.getElementById("playback-data").textContent);
  const box = document.getElementById("playback");
  const canvas = box.querySelector("canvas");
  const slider = document.getElementById("playback-time");
  const button = document.getElementById("playback-play");
  const pace = document.getElementById("playback-pace");
  const told = document.getElementById("playback-told");
  const rows = Array.from(box.querySelectorAll("tbody tr"));
  const TAIL_S = 240; // way behind the dot that is drawn strongly
  const MARGIN = 14;
  let fromStart = false;
  let playing = false;
  let last = 0;

  const xs = race.tracks.flatMap((track) => track.x).concat(race.outlines.flatMap((line) => line[0]));
  const ys = race.tracks.flatMap((track) => track.y).concat(race.outlines.flatMap((line) => line[1]));
  const least = (values) => values.reduce((a, b) => Math.min(a, b), Infinity);
  const most = (values) => values.reduce((a, b) => Math.max(a, b), -Infinity);
  const west = least(xs), east = most(xs), south = least(ys), north = most(ys);
  const started = race.tracks.filter((track) => track.start_s !== null);

  const two = (value) => String(value).padStart(2, "0");
  function span(seconds) {
    const whole = Math.round(Math.abs(seconds));
    const text = Math.floor(whole / 3600) + ":" + two(Math.floor(whole / 60) % 60) + ":" + two(whole % 60);
    return (seconds < -0.5 ? "\u2212" : "") + text;
  }
  const clock = (seconds) => span((race.clock_s + seconds) % 86400).padStart(8, "0");

  // Seconds since the play-back's begin for one pilot, at the slider's moment.
  const momentOf = (track, at) => (fromStart ? (track.start_s === null ? null : at + track.start_s) : at);

  function placeOf(track, moment) {
    if (moment === null) return null;
    const where = (moment - track.first_s) / track.step_s;
    if (where < 0 || where > track.x.length - 1) return null;
    const low = Math.floor(where), high = Math.min(low + 1, track.x.length - 1), share = where - low;
    const between = (values) =>
      values[low] === null || values[high] === null ? null : values[low] + share * (values[high] - values[low]);
    return { low, x: between(track.x), y: between(track.y), altitude: between(track.altitude), left: between(track.to_goal) };
  }

  function limits() {
    if (!fromStart) return [0, race.length_s];
    const begins = started.map((track) => track.first_s - track.start_s);
    const ends = started.map((track) => track.first_s + track.step_s * (track.x.length - 1) - track.start_s);
    return [Math.floor(least(begins)), Math.ceil(most(ends))];
  }

  function colourOf(text) {
    const name = /^var\((--[a-z-]+)\)$/.exec(text);
    return name ? getComputedStyle(document.documentElement).getPropertyValue(name[1]).trim() : text;
  }

  // The mark of a pilot, as it stands on the lines of the charts.
  function mark(pen, shape, x, y, size) {
    const corners = {
      up: [[0, -1], [1, 0.8], [-1, 0.8]],
      down: [[0, 1], [1, -0.8], [-1, -0.8]],
      diamond: [[0, -1.1], [1.1, 0], [0, 1.1], [-1.1, 0]],
      square: [[-0.8, -0.8], [0.8, -0.8], [0.8, 0.8], [-0.8, 0.8]],
      plus: [[-0.35, -1], [0.35, -1], [0.35, -0.35], [1, -0.35], [1, 0.35], [0.35, 0.35], [0.35, 1], [-0.35, 1],
        [-0.35, 0.35], [-1, 0.35], [-1, -0.35], [-0.35, -0.35]],
    }[shape];
    pen.beginPath();
    if (corners) corners.forEach(([east, south]) => pen.lineTo(x + east * size, y + south * size));
    else pen.arc(x, y, 0.9 * size, 0, 2 * Math.PI);
    pen.closePath();
    pen.fill();
  }

  function draw() {
    const at = Number(slider.value);
    const wide = canvas.clientWidth, high = canvas.clientHeight, dense = window.devicePixelRatio || 1;
    canvas.width = Math.round(wide * dense);
    canvas.height = Math.round(high * dense);
    const pen = canvas.getContext("2d");
    pen.scale(dense, dense);
    const scale = Math.min((wide - 2 * MARGIN) / (east - west || 1), (high - 2 * MARGIN) / (north - south || 1));
    const px = (x) => wide / 2 + (x - (west + east) / 2) * scale;
    const py = (y) => high / 2 - (y - (south + north) / 2) * scale;
    const ink = colourOf("var(--ink)"), quiet = colourOf("var(--quiet)");
    const line = (x, y, from, to) => {
      pen.beginPath();
      for (let k = from; k <= to; k += 1) pen.lineTo(px(x[k]), py(y[k]));
      pen.stroke();
    };
    pen.strokeStyle = quiet;
    pen.setLineDash([4, 3]);
    race.outlines.forEach(([x, y]) => line(x, y, 0, x.length - 1));
    pen.setLineDash([]);
    const words = [];
    race.tracks.forEach((track, number) => {
      const place = placeOf(track, momentOf(track, at));
      pen.strokeStyle = pen.fillStyle = colourOf(track.colour);
      pen.globalAlpha = 0.25;
      pen.lineWidth = 1;
      line(track.x, track.y, 0, track.x.length - 1);
      pen.globalAlpha = 1;
      const cells = rows[number].cells;
      cells[1].textContent = place === null || place.altitude === null ? "\u2013" : Math.round(place.altitude);
      cells[2].textContent = place === null ? "\u2013" : place.left.toFixed(1);
      if (place === null) return;
      pen.lineWidth = 2;
      line(track.x, track.y, Math.max(0, place.low - Math.round(TAIL_S / track.step_s)), place.low);
      mark(pen, track.shape, px(place.x), py(place.y), 6.5);
      words.push([px(place.x), py(place.y), number + 1]);
    });
    pen.font = "bold 11px system-ui, sans-serif";
    pen.fillStyle = ink;
    words.forEach(([x, y, number]) => pen.fillText(number, x + 8, y - 6));
    pen.strokeStyle = ink; // scale and north
    pen.lineWidth = 1.5;
    const unit = 10 ** Math.floor(Math.log10((wide / 4) / scale));
    pen.beginPath();
    pen.moveTo(MARGIN, high - 8);
    pen.lineTo(MARGIN + unit * scale, high - 8);
    pen.stroke();
    pen.font = "11px system-ui, sans-serif";
    pen.fillText(unit + "\u00a0" + race.distance_unit, MARGIN, high - 13);
    pen.fillText("north", wide - 40, 14);
    pen.beginPath();
    pen.moveTo(wide - 25, 36);
    pen.lineTo(wide - 25, 20);
    pen.lineTo(wide - 29, 26);
    pen.moveTo(wide - 25, 20);
    pen.lineTo(wide - 21, 26);
    pen.stroke();
    const text = fromStart ? (at < 0 ? span(-at) + " before the start" : span(at) + " after the start") : clock(at) + " " + race.zone;
    told.textContent = text;
    slider.setAttribute("aria-valuetext", text);
  }

  function stop() {
    playing = false;
    button.textContent = "Play";
  }

  function step(now) {
    if (!playing) return;
    const at = Number(slider.value) + ((now - last) / 1000) * Number(pace.value);
    last = now;
    slider.value = at;
    draw();
    if (at >= Number(slider.max)) stop();
    else requestAnimationFrame(step);
  }

  function synchronise() {
    fromStart = box.querySelector("input[name=playback-by]:checked").value === "start";
    const [from, to] = limits();
    slider.min = from;
    slider.max = to;
    slider.value = fromStart ? 0 : least(started.map((track) => track.start_s).concat(started.length ? [] : [0]));
    draw();
  }

  button.addEventListener("click", () => {
    if (playing) return stop();
    if (Number(slider.value) >= Number(slider.max)) slider.value = slider.min;
    playing = true;
    button.textContent = "Pause";
    last = performance.now();
    requestAnimationFrame(step);
  });
  slider.addEventListener("input", draw);
  box.querySelectorAll("input[name=playback-by]").forEach((choice) => choice.addEventListener("change", synchronise));
  window.addEventListener("resize", draw);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);
  if (!started.length) box.querySelector("input[value=start]").disabled = true;
  box.hidden = false;
  synchronise();
})();
