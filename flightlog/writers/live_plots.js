// The plots of a flight: built once by BokehJS, then given other ranges and thinned lines. The pointer is no part of
// them: it lies above, so that moving it repaints nothing.

const FAR = 1e6; // beyond every range: bands reach from edge to edge
const ROOM = 0.06; // about what is shown, as a share of its span
const RIBBON = 0.05; // height of the strip of phases, as a share of the plot's
const LARGEST_DISC_PX = 30;
const MOST_NUMBERED = 40; // discs whose numbers do not cover each other
const DISCS_FROM = 0.5; // share of the flight that is shown at least where its climbs are discs
const PHASES = ["launch_run", "climb", "glide", "search", "approach"];
const LINES = { // as on paper: told apart by dashes as well as by colour
  launch_run: { width: 4, dash: [] },
  climb: { width: 2, dash: [] },
  glide: { width: 1.5, dash: [] },
  search: { width: 1.7, dash: [2, 3] },
  approach: { width: 2.2, dash: [8, 2] },
};
const MARKERS = { takeoff: ["triangle", "--chart-launch"], landing: ["inverted_triangle", "--chart-approach"] };
const HATCHES = { launch_run: "diagonal_cross", climb: "right_diagonal_line", approach: "left_diagonal_line" };

const colourName = (kind) => "--chart-" + (kind === "launch_run" ? "launch" : kind);

function colours() {
  const style = getComputedStyle(document.documentElement);
  return (name) => style.getPropertyValue(name).trim();
}

function emptyFigure(look, options) {
  const figure = Bokeh.Plotting.figure({
    output_backend: "canvas",
    toolbar_location: null,
    tools: "",
    sizing_mode: "stretch_both",
    min_border: 0,
    background_fill_color: look("--card"),
    border_fill_color: look("--card"),
    outline_line_color: null,
    ...options,
  });
  for (const axis of [...figure.below, ...figure.left]) {
    axis.axis_line_color = axis.major_tick_line_color = look("--ink");
    axis.minor_tick_line_color = null;
    axis.major_label_text_color = axis.axis_label_text_color = look("--ink");
    axis.major_label_text_font = axis.axis_label_text_font = "system-ui, sans-serif";
    axis.major_label_text_font_size = axis.axis_label_text_font_size = "12px";
    axis.axis_label_text_font_style = "normal";
  }
  for (const grid of figure.center) grid.grid_line_color = look("--line");
  return figure;
}

Bokeh.logger.set_level("warn"); // it would tell the console that it is idle

const source = (data) => new Bokeh.ColumnDataSource({ data });
const field = (name) => ({ field: name });
const span = (start, end) => new Bokeh.Range1d({ start, end });

// One curve over time, the phases behind it and in a ribbon above it.
function timePlot(flight, look, label, isLowest) {
  const [range, levels] = [span(0, 1), span(0, 1)];
  const sides = { min_border_left: 76, min_border_right: 10, min_border_top: 4 };
  const figure = emptyFigure(look, { x_range: range, y_range: levels, x_axis_type: "datetime", ...sides });
  const [time] = figure.below;
  const [level] = figure.left;
  Object.assign(time.formatter, { hours: "%H:%M", days: "%H:%M", hourmin: "%H:%M", minutes: "%H:%M", minsec: "%H:%M:%S", seconds: "%H:%M:%S" });
  time.ticker.desired_num_ticks = 4;
  level.axis_label = label;
  level.ticker.desired_num_ticks = 5;
  if (isLowest) time.axis_label = `time (${flight.zone})`;
  else time.visible = false;
  const across = { left: field("left"), right: field("right"), line_color: null };
  const ribbons = [];
  for (const kind of PHASES) { // a pattern for each kind is dear, one for each phase much more so
    const own = flight.phases.filter((phase) => phase.kind === kind);
    if (!own.length) continue;
    const sides = { left: own.map((phase) => flight.moment(phase.start)), right: own.map((phase) => flight.moment(phase.end)) };
    const fill_color = look(colourName(kind));
    figure.quad({ ...across, fill_color, top: FAR, bottom: -FAR, fill_alpha: 0.13, source: source(sides) });
    if (isLowest) continue;
    const ribbon = source({ ...sides, top: own.map(() => 1), bottom: own.map(() => 1) });
    const hatch = HATCHES[kind] ? { hatch_pattern: HATCHES[kind], hatch_color: look("--card"), hatch_scale: 6 } : {};
    figure.quad({ ...across, fill_color, ...hatch, top: field("top"), bottom: field("bottom"), source: ribbon });
    ribbons.push(ribbon);
  }
  const curve = source({ x: [], y: [] });
  figure.line({ x: field("x"), y: field("y"), line_color: look("--ink"), line_width: 1.3, source: curve });
  return { figure, range, levels, ribbons, curve };
}

// New points in a plot over time, and a range of levels that holds them.
function fillTime(plot, flight, fixes, values, from, to, shown) {
  const columns = Math.max(Math.round(shown.width), 50);
  const { x, y } = shownOverTime(fixes, values, from, to, columns);
  const known = y.filter((one) => !Number.isNaN(one));
  const low = known.reduce((a, b) => Math.min(a, b), Infinity);
  const high = known.reduce((a, b) => Math.max(a, b), -Infinity);
  const room = Math.max(high - low, 1e-3) * ROOM;
  plot.range.setv({ start: flight.moment(shown.from), end: flight.moment(shown.to) });
  plot.curve.data = { x: x.map(flight.moment), y };
  if (!known.length) return;
  const top = high + (plot.ribbons.length ? 2 : 1) * room; // the ribbon hides nothing
  plot.levels.setv({ start: low - room, end: top });
  const foot = top - (top - low + room) * RIBBON;
  for (const ribbon of plot.ribbons) {
    const { left, right } = ribbon.data;
    ribbon.data = { left, right, top: left.map(() => top), bottom: left.map(() => foot) };
  }
}

// The track from above: what is shown of it bold, the rest faint; climbs as discs, take-off and landing.
function trackPlot(flight, look) {
  const ranges = { x_range: span(0, 1), y_range: span(0, 1) };
  const figure = emptyFigure(look, { ...ranges, x_axis_type: null, y_axis_type: null });
  if (flight.tiles) figure.background_fill_color = figure.border_fill_color = null; // the map lies below
  for (const grid of figure.center) grid.visible = false;
  const lines = {};
  for (const isBold of [false, true]) {
    for (const kind of PHASES) {
      const { width, dash } = LINES[kind];
      const line = source({ x: [], y: [] });
      figure.line({
        x: field("x"), y: field("y"), line_color: look(colourName(kind)), line_join: "round", source: line,
        ...(isBold ? { line_width: width, line_dash: dash } : { line_width: 1, line_alpha: 0.3 }),
      });
      lines[(isBold ? "bold " : "faint ") + kind] = line;
    }
  }
  const largest = flight.discs.reduce((most, disc) => Math.max(most, disc.weight), 1e-9);
  const discs = source({
    x: flight.discs.map((disc) => disc.x),
    y: flight.discs.map((disc) => disc.y),
    size: flight.discs.map((disc) => Math.max(7, LARGEST_DISC_PX * Math.sqrt(disc.weight / largest))),
    tag: flight.discs.map((disc) => disc.tag),
  });
  const climb = look("--chart-climb");
  const disc = { fill_color: look("--card"), fill_alpha: 0.6, line_color: climb, line_width: 1.6 };
  const climbs = [figure.scatter({ x: field("x"), y: field("y"), size: field("size"), ...disc, source: discs })];
  if (flight.discs.length <= MOST_NUMBERED) {
    climbs.push(figure.text({
      x: field("x"), y: field("y"), text: field("tag"), text_font_size: "11px", text_font: "system-ui, sans-serif",
      text_color: look("--ink"), text_align: "center", text_baseline: "middle", source: discs,
    }));
  }
  for (const mark of flight.marks) {
    const [marker, colour] = MARKERS[mark.kind];
    figure.scatter({ x: [mark.x], y: [mark.y], marker, size: 13, fill_color: look(colour), line_color: look("--ink") });
  }
  return { figure, ...ranges, lines, climbs };
}

// The track anew, its finest detail as the scale of the plot can show it.
function fillTrack(plot, flight, fixes, from, to, perPixel) {
  const parts = { bold: shownTrack(fixes, flight, from, to, perPixel) };
  const isWhole = from === 0 && to === fixes.count - 1;
  const part = (fixes.time[to] - fixes.time[from]) / fixes.time[fixes.count - 1];
  for (const climb of plot.climbs) climb.visible = part >= DISCS_FROM; // nearer, they would hide the circles
  parts.faint = isWhole ? {} : shownTrack(fixes, flight, 0, fixes.count - 1, 2 * perPixel);
  for (const [name, line] of Object.entries(plot.lines)) {
    const [part, kind] = name.split(" ");
    line.data = parts[part][kind] || { x: [], y: [] };
  }
}
