// Axis positions, rotary speed and tip speed over time, with their limits: panels of one axis of time, and the same in a table.
// What is drawn is thinned to the width of the page, anew at each zoom.
"use strict";

steadyrest.makeCharts = function (holder, table, facts, track, colours, place) {
  const { palette, units } = facts, minutes = track.minutes;
  const whole = 60 * track.whole || 1, LEAST = Math.min(0.01, whole); // seconds
  const HIGH = 170, BELOW = 44, TICKS = 22, DASHES = { dot: [2, 4], dash: [9, 5], dashdot: [10, 4, 2, 4] };
  const AS_DRAWN = 2400, STRETCHES = 600; // so many positions are drawn as they are; of more, so many stretches of time
  const RAPID_COLOUR = "#7d858d";
  const decimals = units === "inch" ? 4 : 3, finite = (value) => (Number.isFinite(value) ? value : null);
  const asked = new Map(facts.operations.map((one) => [one.number, one.asked]));

  // A series: its value at each position, null where it has none; `step` where it holds on the whole way to the position.
  const axis = (name, column, more) => ({ name, value: (k) => track[column][k], ...more });
  const panels = [{ title: "X Y Z", unit: units, decimals, limits: [], series: [
    axis("X", "x", { colour: palette[5] }), axis("Y", "y", { colour: palette[2], dash: DASHES.dot }), axis("Z", "z", { colour: palette[0], dash: DASHES.dash })] }];
  facts.rotaries.forEach(({ letter, travel, fastest }, at) => {
    const ends = travel ? [["lowest", travel[0]], ["highest", travel[1]]] : [];
    panels.push({ title: letter, unit: "°", decimals: 3, series: [{ name: letter, value: (k) => track.words[at][k] }],
      limits: ends.map(([name, value]) => ({ name: `${letter} ${name}, ${value}°`, value })) });
    panels.push({ title: `speed of ${letter}`, unit: "°/min", decimals: 0, fromZero: true,
      series: [{ name: `speed of ${letter}`, value: (k) => finite(track.turning[at][k]), colour: palette[5], step: true }],
      limits: [{ name: `limit of ${letter}, ${fastest} °/min`, value: fastest }] });
  });
  const tip = { title: "speed of the tip", unit: `${units}/min`, decimals: units === "inch" ? 2 : 0, fromZero: true,
    series: [
      { name: "tip at feed", value: (k) => (track.isRapid(k) ? null : finite(track.tip[k])), colour: palette[2], step: true },
      { name: "tip at rapid", value: (k) => (track.isRapid(k) ? finite(track.tip[k]) : null), colour: RAPID_COLOUR, dash: DASHES.dot, step: true },
      { name: "highest feed in the toolpath", value: (k) => asked.get(track.operation[k]) ?? null, dash: DASHES.dash, step: true }],
    limits: [{ name: `rapid of the slowest axis, ${Number(facts.slowestRapid.toPrecision(4))} ${units}/min`, value: facts.slowestRapid }] };
  panels.push(tip);
  // Rapids must not press the feeds flat: the tip's panel is as high as the feeds need.
  let feeds = 0;
  for (let k = 0; k < track.count; k++) feeds = Math.max(feeds, tip.series[0].value(k) ?? 0, tip.series[2].value(k) ?? 0);
  if (feeds > 0) tip.range = [0, 1.25 * feeds];

  // Which positions of a panel are drawn. Of every stretch of time, some two pixels wide, each series keeps its lowest, its highest and a
  // gap: nothing that stands out is lost.
  function drawnOf({ series }, low, high) {
    const begin = Math.max(track.search(minutes, low / 60) - 1, 0), end = Math.min(track.search(minutes, high / 60) + 2, track.count);
    if (end - begin <= AS_DRAWN) return Array.from({ length: end - begin }, (_, at) => begin + at);
    const stretch = (minutes[end - 1] - minutes[begin]) / STRETCHES, kept = [];
    for (let first = begin, next = begin; first < end; first = next) {
      while (next < end && (next === first || minutes[next] <= minutes[first] + stretch)) next++;
      const chosen = new Set([first, next - 1]);
      for (const { value } of series) {
        let lowest = first, highest = first, gap = first;
        for (let k = first; k < next; k++) {
          const here = value(k);
          if (here === null) { gap = k; continue; }
          if (value(lowest) === null || here < value(lowest)) lowest = k;
          if (value(highest) === null || here > value(highest)) highest = k;
        }
        chosen.add(gap).add(lowest).add(highest);
      }
      kept.push(...[...chosen].sort((a, b) => a - b));
    }
    return kept;
  }
  function dataOf(panel) {
    const kept = drawnOf(panel, ...now);
    return [kept.map((k) => 60 * minutes[k]), ...panel.series.map((one) => kept.map(one.value))];
  }
  // The line of a series that holds on the way to each position: level up to it, upright where the next begins.
  function steps(plot, at, first, last) {
    const [times, values] = [plot.data[0], plot.data[at]], stroke = new Path2D();
    const x = (k) => plot.valToPos(times[k], "x", true), y = (k) => plot.valToPos(values[k], "y", true);
    for (let k = Math.max(first, 1); k <= last; k++) {
      if (values[k] === null) continue;
      if (k > 1 && values[k - 1] !== null) stroke.lineTo(x(k - 1), y(k)); else stroke.moveTo(x(k - 1), y(k));
      stroke.lineTo(x(k), y(k));
    }
    return { stroke, fill: null, clip: null, band: null, gaps: null, flags: 1 };
  }
  // From where to where a panel goes. A limit that lies far off is not drawn to scale, but named at the edge.
  function rangeOf(panel, low, high) {
    if (panel.range) return panel.range;
    if (low === null) [low, high] = [0, 1];
    if (panel.fromZero) low = Math.min(low, 0);
    const reach = 4 * (high - low);
    for (const { value } of panel.limits) if (value >= low - reach && value <= high + reach) [low, high] = [Math.min(low, value), Math.max(high, value)];
    const more = 0.12 * (high - low) || 1;
    return [panel.fromZero && low === 0 ? 0 : low - more, high + more];
  }

  // --- what lies under the lines and over them, in pixels of the canvas
  function drawOperations(plot) {
    const { ctx, bbox } = plot, dense = devicePixelRatio, theme = colours.themed();
    ctx.save();
    ctx.strokeStyle = theme.soft; ctx.fillStyle = theme.ink; ctx.font = `600 ${13 * dense}px system-ui, sans-serif`; ctx.textAlign = "left"; ctx.textBaseline = "top"; ctx.lineWidth = dense; ctx.setLineDash([dense, 3 * dense]);
    let free = -Infinity;
    for (const one of facts.operations) {
      const x = one.begins === null ? NaN : plot.valToPos(60 * one.begins, "x", true);
      if (!(x >= bbox.left - 1 && x <= bbox.left + bbox.width)) continue;
      ctx.beginPath(); ctx.moveTo(x, bbox.top); ctx.lineTo(x, bbox.top + bbox.height); ctx.stroke();
      if (x < free) continue;
      ctx.fillText(String(one.number), x + 4 * dense, bbox.top + 2 * dense);
      free = x + 4 * dense + ctx.measureText(`${one.number} `).width;
    }
    ctx.restore();
  }
  function drawLimits(plot, limits) {
    const { ctx, bbox } = plot, dense = devicePixelRatio, theme = colours.themed(), bottom = bbox.top + bbox.height;
    ctx.save();
    ctx.font = `600 ${13 * dense}px system-ui, sans-serif`; ctx.textAlign = "right"; ctx.textBaseline = "middle"; ctx.lineWidth = 2 * dense; ctx.strokeStyle = theme.bad;
    for (const one of limits) {
      const y = plot.valToPos(one.value, "y", true), beyond = y < bbox.top - 1 ? "↑ " : y > bottom + 1 ? "↓ " : "", text = beyond + one.name;
      if (!beyond) { ctx.setLineDash(DASHES.dashdot.map((each) => each * dense)); ctx.beginPath(); ctx.moveTo(bbox.left, y); ctx.lineTo(bbox.left + bbox.width, y); ctx.stroke(); }
      const right = bbox.left + bbox.width - 6 * dense, middle = Math.min(Math.max(y + 12 * dense, bbox.top + 11 * dense), bottom - 11 * dense);
      const wide = ctx.measureText(text).width;
      ctx.globalAlpha = 0.8; ctx.fillStyle = theme.card; ctx.fillRect(right - wide - 3 * dense, middle - 9 * dense, wide + 6 * dense, 18 * dense);
      ctx.globalAlpha = 1; ctx.fillStyle = theme.bad; ctx.fillText(text, right, middle);
    }
    ctx.restore();
  }

  // --- the panels
  const made = (name, about = {}, ...inside) => { const one = Object.assign(document.createElement(name), about); one.append(...inside); return one; };
  // A short line as the series is drawn.
  function sample({ colour = "currentColor", dash = [] }) {
    const drawing = document.createElementNS("http://www.w3.org/2000/svg", "svg"), line = document.createElementNS(drawing.namespaceURI, "line");
    for (const [name, value] of Object.entries({ width: 34, height: 10, "aria-hidden": "true" })) drawing.setAttribute(name, value);
    for (const [name, value] of Object.entries({ x1: 0, y1: 5, x2: 34, y2: 5, stroke: colour, "stroke-width": 2.5, "stroke-dasharray": dash.join(" ") })) line.setAttribute(name, value);
    drawing.append(line);
    return drawing;
  }
  function headOf(panel) {
    const list = made("ul");
    panel.series.forEach((one, at) => {
      one.said = made("output");
      const button = made("button", { type: "button" }, sample(one), made("span", { textContent: one.name }));
      button.setAttribute("aria-pressed", "true");
      button.addEventListener("click", () => {
        const show = button.getAttribute("aria-pressed") !== "true";
        button.setAttribute("aria-pressed", String(show));
        panel.plot.setSeries(at + 1, { show });
      });
      list.append(made("li", {}, button, one.said));
    });
    for (const one of panel.limits) list.append(made("li", {}, sample({ colour: "var(--bad)", dash: DASHES.dashdot }), made("span", { textContent: one.name })));
    return made("div", { className: "panel-head" }, made("h3", { textContent: `${panel.title}, ${panel.unit}` }), list);
  }
  const clock = (seconds, step) => {
    const digits = step < 1 ? Math.min(3, Math.ceil(-Math.log10(step))) : 0, left = (seconds % 60).toFixed(digits);
    return `${Math.floor(seconds / 60)}:${left.padStart(digits ? digits + 3 : 2, "0")}`;
  };
  const TIMES = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 36000, 72000, 144000, 360000];
  function open(panel, last) {
    const under = made("div", { className: "panel" });
    under.setAttribute("role", "img");
    under.setAttribute("aria-label", `${panel.title} over time, ${panel.unit}; the table below says it in numbers`);
    holder.append(headOf(panel), under);
    const theme = (name) => () => colours.themed()[name], font = "14px system-ui, sans-serif";
    // An axis that is not shown at all would leave out the one beside it as well.
    const bare = { values: () => [], ticks: { show: false }, size: 0 };
    const named = { values: (_, times, __, ___, step) => times.map((each) => (each === null ? null : clock(each, step))), size: BELOW - TICKS, label: "time in the program, min:s", labelSize: TICKS };
    const look = { stroke: theme("ink"), font, grid: { stroke: theme("line"), width: 1 }, ticks: { stroke: theme("line"), width: 1, size: 5 } };
    panel.plot = new uPlot({
      width: wide(), height: HIGH + (last ? BELOW : 0), padding: [6, 14, last ? 0 : 6, 0], legend: { show: false },
      cursor: { y: false, points: { show: false }, drag: { x: true, y: false, dist: 5, setScale: false }, bind: { dblclick: () => null } },
      scales: { x: { time: false, range: () => now }, y: { range: (_, low, high) => rangeOf(panel, low, high) } },
      axes: [{ ...look, labelFont: font, space: 70, incrs: TIMES, ...(last ? named : bare) },
        { ...look, values: (_, ticks) => ticks.map(String), size: holder.clientWidth < 500 ? 58 : 72, space: 34 }],
      series: [{}, ...panel.series.map((one) => ({ stroke: one.colour || theme("ink"), width: one.colour === RAPID_COLOUR ? 1.2 : 2, dash: one.dash, points: { show: false }, ...(one.step && { paths: steps }) }))],
      hooks: { drawAxes: [drawOperations], draw: [(plot) => drawLimits(plot, panel.limits)], setCursor: [hovered], setSelect: [selected] },
    }, dataOf(panel), under);
    panel.mark = made("div", { className: "playhead" });
    panel.stretch = made("div", { className: "stretch" });
    panel.found = facts.marked.map((one) => [one, made("span", { className: one.sign === "◆" ? "found-here" : "found-here passed", textContent: one.short })]);
    panel.plot.over.append(panel.stretch, panel.mark, ...panel.found.map(([, each]) => each));
    panel.plot.over.addEventListener("pointerdown", (event) => { down = event.clientX; });
    panel.plot.over.addEventListener("click", (event) => {
      if (Math.abs(event.clientX - down) <= 4) place.set(track.placeAt(panel.plot.posToVal(event.clientX - panel.plot.over.getBoundingClientRect().left, "x") / 60), "chart");
    });
    panel.plot.over.addEventListener("dblclick", () => zoom(0, whole));
  }
  let now = [0, whole], ready = false, down = 0, pointed = null, printing = false;
  const wide = () => Math.max(printing ? 716 : holder.clientWidth, 200);
  function selected(plot) {
    const { left, width } = plot.select;
    if (width > 4) zoom(plot.posToVal(left, "x"), plot.posToVal(left + width, "x"));
    plot.setSelect({ width: 0, height: 0 }, false);
  }
  // The same time is pointed at in every panel.
  function hovered(plot) {
    const left = plot.cursor.left, at = left >= 0 ? plot.posToVal(left, "x") : null;
    if (at === pointed) return;
    pointed = at;
    for (const panel of panels) if (panel.plot && panel.plot !== plot) panel.plot.setCursor({ left: left >= 0 ? left : -10, top: left >= 0 ? 1 : -10 }, false);
    say();
  }
  function zoom(low, high) {
    const span = Math.min(Math.max(high - low, LEAST), whole), begin = Math.min(Math.max(low, 0), whole - span);
    now = [begin, begin + span];
    for (const panel of panels) { panel.plot.setData(dataOf(panel), false); panel.plot.setScale("x", { min: now[0], max: now[1] }); }
    mark();
  }
  const closer = (factor) => {
    const head = 60 * place.state.minutes, about = head >= now[0] && head <= now[1] ? head : (now[0] + now[1]) / 2;
    zoom(about - factor * (about - now[0]), about + factor * (now[1] - about));
  };
  const along = (share) => zoom(now[0] + share * (now[1] - now[0]), now[1] + share * (now[1] - now[0]));
  const acts = { "+": () => closer(1 / 1.5), "=": () => closer(1 / 1.5), "-": () => closer(1.5), ArrowLeft: () => along(-0.1), ArrowRight: () => along(0.1), Home: () => zoom(0, whole) };
  holder.addEventListener("keydown", (event) => {
    if (!ready || !acts[event.key] || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    acts[event.key]();
  });

  // --- the place, or the time that is pointed at: a line through all panels, and the values there
  function say() {
    const at = pointed === null ? place.place : track.placeAt(Math.min(Math.max(pointed, 0), whole) / 60), k = Math.min(Math.ceil(at), track.count - 1);
    for (const panel of panels) {
      for (const one of panel.series) {
        const before = one.value(Math.max(k - 1, 0)), here = one.value(k), value = one.step || here === null ? here : here + (k - at) * (before - here);
        one.said.textContent = value === null ? "" : value.toFixed(panel.decimals);
      }
    }
  }
  function mark() {
    if (!ready) return;
    const [from, to] = track.stretchOf(place.state.operation).map((k) => minutes[k]);
    for (const { plot, mark: line, stretch, found } of panels) {
      const wide = plot.over.clientWidth, at = (time) => ((60 * time - now[0]) / (now[1] - now[0])) * wide, x = at(place.state.minutes);
      line.hidden = x < -1 || x > wide + 1;
      line.style.left = `${x - 1}px`;
      // All of the operation that is shown, and where findings are.
      const [left, right] = [Math.max(at(from), 0), Math.min(at(to), wide)];
      stretch.style.left = `${left}px`;
      stretch.style.width = `${Math.max(right - left, 0)}px`;
      for (const [one, each] of found) {
        const there = at(minutes[one.place]);
        each.hidden = there < -1 || there > wide + 1;
        each.style.left = `${there}px`;
        each.classList.toggle("now", one.line === place.state.line);
      }
    }
    say();
  }
  place.listen(mark);
  function fit() {
    if (!ready || (!holder.clientWidth && !printing)) return;
    panels.forEach(({ plot }, at) => plot.setSize({ width: wide(), height: HIGH + (at === panels.length - 1 ? BELOW : 0) }));
    mark();
  }

  // --- the same in words: lowest and highest of each series in each operation, and the line of the largest
  const MOST_ROWS = 400;
  function fill() {
    const body = table.tBodies[0];
    if (body.rows.length) return;
    const found = new Map(facts.operations.map((one) => [one.number, new Map()]));
    const every = panels.flatMap((panel) => panel.series.filter((one) => one !== tip.series[2]).map((one) => ({ panel, one })));
    for (let k = 1; k < track.count; k++) {
      const those = found.get(track.operation[k]);
      if (!those) continue;
      for (const { one } of every) {
        const value = one.value(k), range = those.get(one);
        if (value === null) continue;
        if (!range) those.set(one, { lowest: value, highest: value, at: k });
        else if (value < range.lowest) range.lowest = value;
        else if (value > range.highest) { range.highest = value; range.at = k; }
      }
    }
    let left = 0;
    for (const operation of facts.operations) {
      for (const { panel, one } of every) {
        const range = found.get(operation.number).get(one);
        if (!range) continue;
        if (body.rows.length >= MOST_ROWS) { left++; continue; }
        const line = track.line[range.at], show = made("button", { type: "button", className: "link", textContent: "show" });
        show.dataset.line = line;
        show.setAttribute("aria-label", `show line ${line}, where ${one.name} is highest in operation ${operation.number}`);
        const head = made("th", { scope: "row", textContent: `${operation.number} ${operation.name}` });
        const cells = [`${one.name}, ${panel.unit}`, range.lowest.toFixed(panel.decimals), range.highest.toFixed(panel.decimals)].map((textContent) => made("td", { textContent }));
        body.append(made("tr", {}, head, ...cells, made("td", {}, show)));
      }
    }
    if (left) table.caption.append(` The first ${MOST_ROWS} rows of ${MOST_ROWS + left}.`);
  }

  // Folded away it has no width; so it is drawn when it is first opened, and fitted each time after that.
  function shown() {
    if (ready) { fit(); return; }
    panels.forEach((panel, at) => open(panel, at === panels.length - 1));
    ready = true;
    holder.dataset.drawn = "yes";
    new ResizeObserver(() => { if (!printing) fit(); }).observe(holder);
    mark();
  }
  // On a page of their own, whole and light whatever the screen is.
  const root = document.documentElement;
  let themeBefore;
  function print() {
    if (!printing) themeBefore = root.dataset.theme;
    printing = true;
    root.dataset.theme = "light";
    root.dataset.printed = "charts";
    fit();
    themed();
    setTimeout(() => window.print(), 0); // drawn by then
  }
  addEventListener("afterprint", () => {
    if (!printing) return;
    printing = false;
    if (themeBefore) root.dataset.theme = themeBefore; else delete root.dataset.theme;
    delete root.dataset.printed;
    fit();
    themed();
  });
  function themed() { if (ready) for (const { plot } of panels) plot.redraw(false, true); }
  return { shown, fill, print, themed, zoom, panels, act: (key) => ready && acts[key](), get range() { return now; } };
};
