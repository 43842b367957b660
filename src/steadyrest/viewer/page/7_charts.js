// Axis positions, rotary speed and tip speed over time, with their limits. What is drawn is thinned to the width of the page, anew at each zoom.
"use strict";

steadyrest.makeCharts = function (holder, facts, track, colours, place) {
  const margin = { l: 84, r: 20, t: 14, b: 50 };
  const palette = facts.palette;
  const minutes = track.minutes, none = (value) => (Number.isFinite(value) ? value : null);
  const rotaryName = facts.letter || "rotary";
  const panels = [];
  // Each series: its column, how it goes from one position to the next, its panel.
  const series = [];
  const limits = [];
  const panel = (title) => panels.push(title) - 1;
  const lengths = panel(`X Y Z, ${facts.units}`);
  series.push({ name: "X", value: (k) => track.x[k], panel: lengths, colour: palette[5], dash: "solid" },
    { name: "Y", value: (k) => track.y[k], panel: lengths, colour: palette[2], dash: "dot" },
    { name: "Z", value: (k) => track.z[k], panel: lengths, colour: palette[0], dash: "dash" });
  if (facts.letter) {
    const turned = panel(`${rotaryName}, °`);
    series.push({ name: rotaryName, value: (k) => track.word[k], panel: turned, colour: palette[1], dash: "solid" });
    if (facts.travel) {
      limits.push({ name: `${rotaryName} lowest ${facts.travel[0]}°`, value: facts.travel[0], panel: turned }, { name: `${rotaryName} highest ${facts.travel[1]}°`, value: facts.travel[1], panel: turned });
    }
    const speed = panel(`${rotaryName}, °/min`);
    series.push({ name: `speed of ${rotaryName}`, value: (k) => none(track.rotary[k]), panel: speed, colour: palette[5], step: true });
    limits.push({ name: `limit of ${rotaryName}, ${facts.rotaryFastest} °/min`, value: facts.rotaryFastest, panel: speed });
  }
  const tip = panel(`tip, ${facts.units}/min`);
  series.push({ name: "tip at feed", value: (k) => (track.isRapid(k) ? null : none(track.tip[k])), panel: tip, colour: palette[2], step: true },
    { name: "tip at rapid", value: (k) => (track.isRapid(k) ? none(track.tip[k]) : null), panel: tip, colour: "#7d858d", step: true, thin: true });
  limits.push({ name: `rapid of the slowest axis, ${facts.slowestRapid.toPrecision(4)} ${facts.units}/min`, value: facts.slowestRapid, panel: tip });

  // Of every stretch of time, some two pixels wide, the lowest and the highest: nothing that stands out is lost.
  function drawnOf(one, low, high) {
    const begin = Math.max(track.search(minutes, low) - 1, 0), end = Math.min(track.search(minutes, high) + 1, track.count);
    const wide = 600, t = [], v = [];
    if (end - begin <= 4 * wide) {
      for (let k = begin; k < end; k++) { t.push(minutes[k]); v.push(one.value(k)); }
      return [t, v];
    }
    const span = (minutes[end - 1] - minutes[begin]) / wide || 1;
    let k = begin;
    while (k < end) {
      const stop = minutes[k] + span;
      let lowest = k, highest = k, last = k, gap = -1;
      for (; k < end && (minutes[k] <= stop || k === last); k++) {
        const value = one.value(k);
        if (value === null) { gap = k; last = k; continue; }
        if (one.value(lowest) === null || value < one.value(lowest)) lowest = k;
        if (one.value(highest) === null || value > one.value(highest)) highest = k;
        last = k;
      }
      for (const each of [...new Set(k >= end ? [gap, lowest, highest, last] : [gap, lowest, highest])].filter((each) => each >= 0).sort((a, b) => a - b)) { t.push(minutes[each]); v.push(one.value(each)); }
    }
    return [t, v];
  }

  const nameOf = (at) => (at ? String(at + 1) : "");
  function traces(low, high) {
    const made = series.map((one) => {
      const [x, y] = drawnOf(one, low, high);
      return { type: "scatter", mode: "lines", name: one.name, x, y, yaxis: `y${nameOf(one.panel)}`, xaxis: "x", connectgaps: false,
        line: { color: one.colour, width: one.thin ? 1.2 : 2, dash: one.dash || "solid", shape: one.step ? "vh" : "linear" }, hovertemplate: "%{y:.4~f}<extra>%{fullData.name}</extra>" };
    });
    for (const one of limits) {
      made.push({ type: "scatter", mode: "lines", name: one.name, x: [0, track.whole], y: [one.value, one.value], yaxis: `y${nameOf(one.panel)}`, xaxis: "x", hoverinfo: "name",
        line: { color: colours.themed().bad, width: 2, dash: "dashdot" } });
    }
    // The highest feed that each operation asks for, over the time it takes.
    const x = [], y = [];
    facts.operations.forEach((one, at) => {
      if (!one.asked || one.begins === null) return;
      const next = facts.operations.slice(at + 1).find((other) => other.begins !== null);
      x.push(one.begins, next ? next.begins : track.whole, null);
      y.push(one.asked, one.asked, null);
    });
    made.push({ type: "scatter", mode: "lines", name: "highest feed in the toolpath", x, y, yaxis: `y${nameOf(tip)}`, xaxis: "x", hoverinfo: "name+y", line: { color: palette[1], width: 2, dash: "dash" } });
    return made;
  }

  // Rapids must not press the feeds flat: the tip's panel is as high as the feeds need.
  let highest = 0;
  for (let k = 0; k < track.count; k++) if (!track.isRapid(k) && track.tip[k] > highest) highest = track.tip[k];
  for (const one of facts.operations) highest = Math.max(highest, one.asked || 0);

  function layout() {
    const theme = colours.themed(), gap = 0.045, each = (1 - gap * (panels.length - 1)) / panels.length;
    const look = { color: theme.ink, gridcolor: theme.line, zerolinecolor: theme.line };
    const made = { margin, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", font: { size: 15, color: theme.ink }, hovermode: "x", dragmode: "zoom",
      hoverlabel: { font: { size: 15 } }, showlegend: true, legend: { orientation: "h", y: -0.07, yanchor: "top", font: { size: 14 } }, uirevision: "kept",
      xaxis: { ...look, title: { text: "minutes", standoff: 4 }, range: now || [0, track.whole || 1], anchor: `y${nameOf(panels.length - 1)}` } };
    margin.b = holder.clientWidth < 700 ? 190 : 110;
    panels.forEach((title, at) => {
      const top = 1 - at * (each + gap);
      made[`yaxis${nameOf(at)}`] = { ...look, title: { text: title, font: { size: 14 } }, domain: [Math.max(0, top - each), top], fixedrange: true, automargin: false };
    });
    if (highest > 0) made[`yaxis${nameOf(tip)}`].range = [0, 1.25 * highest];
    return made;
  }
  let now = null, ready = false;
  const head = document.createElement("div");
  head.className = "playhead";

  async function open() {
    const config = { ...steadyrest.plotting, modeBarButtons: [["zoom2d", "pan2d", "zoomIn2d", "zoomOut2d", "resetScale2d"]], doubleClick: "reset" };
    await Plotly.newPlot(holder, traces(0, track.whole), layout(), config);
    ready = true;
    holder.dataset.drawn = "yes";
    holder.append(head);
    holder.on("plotly_relayout", (change) => {
      const range = holder.layout.xaxis.range;
      if (range && (!now || range[0] !== now[0] || range[1] !== now[1])) {
        now = [...range];
        const fresh = series.map((one) => drawnOf(one, now[0], now[1]));
        Plotly.restyle(holder, { x: fresh.map((each) => each[0]), y: fresh.map((each) => each[1]) }, series.map((_, at) => at));
      }
      if (change) mark();
    });
    new ResizeObserver(mark).observe(holder);
    mark();
  }
  function plotWide() { return holder.clientWidth - margin.l - margin.r; }
  function mark() {
    if (!ready) return;
    const [low, high] = holder.layout.xaxis.range, x = margin.l + ((place.state.minutes - low) / (high - low)) * plotWide();
    head.hidden = x < margin.l - 1 || x > margin.l + plotWide() + 1;
    head.style.left = `${x - 1}px`;
    head.style.top = `${margin.t}px`;
    head.style.height = `${holder.clientHeight - margin.t - margin.b}px`;
  }
  let down = null;
  holder.addEventListener("pointerdown", (event) => { down = [event.clientX, event.clientY, event.target]; }, true);
  // The plotting library lays a cover over the page while a button is down: where it is let go is heard from the document.
  document.addEventListener("pointerup", (event) => {
    const began = down;
    down = null;
    if (!ready || !began || Math.hypot(event.clientX - began[0], event.clientY - began[1]) > 4 || began[2].closest(".modebar, .legend")) return;
    const box = holder.getBoundingClientRect(), x = event.clientX - box.left - margin.l, y = event.clientY - box.top;
    if (x < 0 || x > plotWide() || y < margin.t || y > holder.clientHeight - margin.b) return;
    const [low, high] = holder.layout.xaxis.range;
    place.set(track.placeAt(low + (x / plotWide()) * (high - low)), "chart");
  }, true);
  place.listen(mark);

  // Folded away it has no width; so it is drawn when it is first opened, and fitted each time after that.
  async function shown() {
    if (ready) await Plotly.Plots.resize(holder); else await open();
    mark();
  }
  return { shown, themed() { if (ready) Plotly.react(holder, traces(...(now || [0, track.whole])), layout()).then(mark); } };
};
