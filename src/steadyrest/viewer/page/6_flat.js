// The surface unrolled: along the axis and around it, as seen from outside. The plotting library has the axes; the map is painted under them.
"use strict";

// What holds for every drawing of the library: the buttons are named one by one, so that no release of it adds one that leaves the page.
steadyrest.plotting = { responsive: true, displaylogo: false, plotlyServerURL: "" };

steadyrest.makeFlat = function (holder, facts, columns, track, colours, place) {
  const field = facts.field, radii = facts.axis !== "Z";
  const shown = { part: true, cut: true, rapid: true };
  const margin = { l: 72, r: 18, t: 12, b: 52 };
  // About X the angle rises downwards, about Y to the right: so the map is what one sees from outside, and text on it reads as on the part.
  const upright = facts.axis === "Y";
  const turn = 2 * Math.PI;

  const along = new Float32Array(track.count), other = new Float32Array(track.count);
  for (let k = 0; k < track.count; k++) [along[k], other[k]] = unrolled(track.part[3 * k], track.part[3 * k + 1], track.part[3 * k + 2]);
  // Axis X: (along, angle in degrees); Y: (angle, along); Z: seen from above, (x, y). Lengths are coordinates of the part.
  function unrolled(x, y, z) {
    const [cx, cy, cz] = facts.centre;
    if (facts.axis === "X") return [x, degrees(Math.atan2(cy - y, z - cz))];
    if (facts.axis === "Y") return [degrees(Math.atan2(x - cx, z - cz)), y];
    return [x, y];
  }
  function degrees(angle) { return (((angle % turn) + turn) % turn) * 180 / Math.PI; }

  // Where the painted cells lie on the map, as Python says; around the part they go on, a turn later and a turn before.
  const [first, second] = field ? field.onMap : [range(upright ? other : along), radii ? [0, 360] : range(other)];
  const turns = radii ? [-360, 0, 360] : [0];
  function range(column) {
    let low = Infinity, high = -Infinity;
    for (const value of column) { low = Math.min(low, value); high = Math.max(high, value); }
    const more = 0.05 * (high - low) || 1;
    return [low - more, high + more];
  }

  const image = field && paint();
  // One pixel a cell: the colour of the operation that cut it last, lit from the upper left as the eye expects of a drawing.
  function paint() {
    const { n, m, firstStep, secondStep } = field, outer = columns.outer, last = columns.last_cut;
    const made = document.createElement("canvas");
    const [wide, high] = upright ? [m, n] : [n, m];
    made.width = wide; made.height = high;
    const pen = made.getContext("2d"), data = pen.createImageData(wide, high);
    const table = Array.from({ length: 256 }, (_, number) => colours.parse(colours.ofOperation(number)));
    const middle = Math.max(facts.swept, 1e-9), across = radii ? secondStep * middle : secondStep;
    const one = 1 / (2 * firstStep), two = 1 / (2 * across);
    for (let i = 0; i < n; i++) {
      const up = Math.min(i + 1, n - 1) * m, down = Math.max(i - 1, 0) * m;
      for (let j = 0; j < m; j++) {
        const right = radii ? (j + 1) % m : Math.min(j + 1, m - 1), left = radii ? (j + m - 1) % m : Math.max(j - 1, 0);
        const a = (outer[up + j] - outer[down + j]) * one * field.step, b = (outer[i * m + right] - outer[i * m + left]) * two * field.step;
        // Slopes to the right and upwards on the map.
        const [toRight, upwards] = upright ? [b, a] : facts.axis === "X" ? [a, -b] : [a, b];
        const size = Math.sqrt(1 + toRight * toRight + upwards * upwards);
        const bright = outer[i * m + j] > 0 ? Math.min(1.15, 0.42 + 0.62 * Math.max(0, (0.45 * toRight - 0.55 * upwards + 0.9) / size)) : 0;
        const row = upright ? n - 1 - i : facts.axis === "X" ? j : m - 1 - j, column = upright ? j : i;
        const at = 4 * (row * wide + column), base = table[last[i * m + j]];
        data.data[at] = base[0] * bright; data.data[at + 1] = base[1] * bright; data.data[at + 2] = base[2] * bright;
        data.data[at + 3] = outer[i * m + j] > 0 ? 255 : 0;
      }
    }
    pen.putImageData(data, 0, 0);
    return made;
  }

  const canvas = document.createElement("canvas");
  canvas.style.cssText = "position:absolute;inset:0;width:100%;height:100%";
  const plot = document.createElement("div");
  plot.style.cssText = "position:absolute;inset:0";
  holder.append(canvas, plot);
  let ready = false;

  // Where the map's axes run: horizontally and vertically, lowest and highest as drawn from the left and from below.
  const mapped = (across) => (upright ? { x: across, y: first } : { x: first, y: facts.axis === "X" ? [across[1], across[0]] : across });
  const painted = mapped(second), whole = mapped(radii ? [0, 360] : second);
  // One scale along and around: how long a number on each axis is on the surface, and ranges widened about their middle until a
  // length takes as many pixels one way as the other.
  const lengthOf = { x: radii && upright ? facts.degree || 1 : 1, y: radii && !upright ? facts.degree || 1 : 1 };
  function even({ x, y }) {
    const wide = Math.max(holder.clientWidth - margin.l - margin.r, 1), high = Math.max(holder.clientHeight - margin.t - margin.b, 1);
    const pixel = Math.max((Math.abs(x[1] - x[0]) * lengthOf.x) / wide, (Math.abs(y[1] - y[0]) * lengthOf.y) / high);
    const to = ([low, high], span) => about([low, high], span / Math.abs(high - low));
    return { x: to(x, (pixel * wide) / lengthOf.x), y: to(y, (pixel * high) / lengthOf.y) };
  }
  const ticks = Array.from({ length: 25 }, (_, k) => 45 * (k - 8));
  const ranges = ({ x, y }) => ({ "xaxis.range": x, "yaxis.range": y });
  function layout() {
    const theme = colours.themed();
    const fitted = even(now || whole);
    const angle = { title: { text: "angle, °" }, tickvals: ticks, ticktext: ticks.map((value) => String(((value % 360) + 360) % 360)) }, length = { title: { text: `along ${facts.axis}, ${facts.units}` } };
    const look = { color: theme.ink, gridcolor: theme.line, zeroline: false, showgrid: false, ticks: "outside", fixedrange: false };
    const names = radii ? (upright ? [angle, length] : [length, angle]) : [{ title: { text: `X, ${facts.units}` } }, { title: { text: `Y, ${facts.units}` } }];
    return { margin, paper_bgcolor: "rgba(0,0,0,0)", plot_bgcolor: "rgba(0,0,0,0)", showlegend: false, dragmode: "pan", hovermode: false, font: { size: 15, color: theme.ink },
      xaxis: { ...look, ...names[0], range: fitted.x }, yaxis: { ...look, ...names[1], range: fitted.y } };
  }
  let now = null;
  const all = () => Plotly.relayout(plot, ranges(even(whole)));
  async function open() {
    if (!ready) {
      ready = true;
      // Zooms that change one axis alone are left out: the two scales stay equal.
      const buttons = ["zoomIn2d", "zoomOut2d", { name: "all", title: "The whole map", icon: Plotly.Icons.home, click: all }];
      await Plotly.newPlot(plot, [{ x: [], y: [], type: "scatter" }], layout(),
        { ...steadyrest.plotting, scrollZoom: true, showAxisDragHandles: false, doubleClick: false, modeBarButtons: [buttons] });
      plot.on("plotly_relayout", redraw);
      plot.on("plotly_relayouting", redraw);
      plot.on("plotly_doubleclick", all);
      new ResizeObserver(() => { if (!holder.hidden) Plotly.relayout(plot, { autosize: true, ...ranges(even(now || whole)) }); }).observe(holder);
    }
    redraw();
  }

  function view() {
    const x = plot.layout.xaxis.range, y = plot.layout.yaxis.range;
    now = { x: [...x], y: [...y] };
    const wide = holder.clientWidth - margin.l - margin.r, high = holder.clientHeight - margin.t - margin.b;
    return { x: (value) => margin.l + ((value - x[0]) / (x[1] - x[0])) * wide, y: (value) => margin.t + high - ((value - y[0]) / (y[1] - y[0])) * high, wide, high,
      valueX: (pixel) => x[0] + ((pixel - margin.l) / wide) * (x[1] - x[0]), valueY: (pixel) => y[0] + ((margin.t + high - pixel) / high) * (y[1] - y[0]) };
  }

  let waiting = false;
  function redraw() {
    if (!ready || waiting || holder.hidden) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; if (!holder.hidden && plot.layout) draw(); });
  }
  function draw() {
    const density = Math.min(window.devicePixelRatio || 1, 2), at = view(), theme = colours.themed();
    canvas.width = holder.clientWidth * density; canvas.height = holder.clientHeight * density;
    const pen = canvas.getContext("2d");
    pen.setTransform(density, 0, 0, density, 0, 0);
    pen.beginPath(); pen.rect(margin.l, margin.t, at.wide, at.high); pen.clip();
    if (image && shown.part) {
      pen.imageSmoothingEnabled = true;
      for (const off of turns) {
        const [dx, dy] = upright ? [off, 0] : [0, off];
        const x0 = at.x(painted.x[0] + dx), x1 = at.x(painted.x[1] + dx), y0 = at.y(painted.y[1] + dy), y1 = at.y(painted.y[0] + dy);
        if (x1 < 0 || y1 < 0 || x0 > holder.clientWidth || y0 > holder.clientHeight) continue;
        pen.drawImage(image, x0, y0, x1 - x0 + 0.5, y1 - y0 + 0.5); // no hairline where one turn meets the next
      }
    }
    const state = place.state;
    const angle = upright ? along : other;
    for (const off of turns) {
      const [dx, dy] = upright ? [off, 0] : [0, off];
      for (const rapid of [true, false]) {
        if (!(rapid ? shown.rapid : shown.cut)) continue;
        pen.lineWidth = rapid ? 1 : 1.6;
        pen.setLineDash(rapid ? [5, 4] : []);
        let colour = null, px = 0, py = 0, open = false;
        for (let k = 0; k < track.count; k++) {
          const x = at.x(along[k] + dx), y = at.y(other[k] + dy);
          if (k > 0 && track.isRapid(k) === rapid && (!radii || Math.abs(angle[k] - angle[k - 1]) < 180)) {
            const wanted = rapid ? theme.soft : track.operation[k];
            if (wanted !== colour) {
              if (open) pen.stroke();
              colour = wanted;
              pen.strokeStyle = rapid ? theme.soft : mixed(colours.parse(colours.ofOperation(wanted)), colours.parse(theme.ink), 0.55);
              pen.beginPath();
              open = true;
              pen.moveTo(px, py);
            } else if (!open) {
              pen.beginPath(); open = true; pen.moveTo(px, py);
            } else if (broken) pen.moveTo(px, py);
            pen.lineTo(x, y);
            broken = false;
          } else broken = true;
          px = x; py = y;
        }
        if (open) pen.stroke();
      }
      pen.setLineDash([]);
      const [mx, my] = unrolled(...state.part);
      pen.lineWidth = 3; pen.strokeStyle = theme.ink;
      pen.beginPath(); pen.arc(at.x(mx + dx), at.y(my + dy), 8, 0, 7); pen.stroke();
      pen.lineWidth = 1.4; pen.strokeStyle = theme.card;
      pen.beginPath(); pen.arc(at.x(mx + dx), at.y(my + dy), 6, 0, 7); pen.stroke();
    }
    // The turns before and after are the same surface again: veiled, so that each place is seen once.
    if (radii) {
      pen.fillStyle = theme.stage;
      pen.globalAlpha = 0.65;
      const [begin, end] = upright ? [at.x(0), at.x(360)] : [at.y(0), at.y(360)];
      if (upright) { pen.fillRect(0, 0, begin, holder.clientHeight); pen.fillRect(end, 0, holder.clientWidth, holder.clientHeight); }
      else { pen.fillRect(0, 0, holder.clientWidth, begin); pen.fillRect(0, end, holder.clientWidth, holder.clientHeight); }
      pen.globalAlpha = 1;
    }
    canvas.dataset.drawn = String(Number(canvas.dataset.drawn || 0) + 1);
  }
  let broken = true;
  function mixed(a, b, share) { return `rgb(${a.map((value, k) => Math.round(value + share * (b[k] - value))).join(",")})`; }

  function pick(px, py) {
    const at = view();
    let best = null;
    for (let k = 1; k < track.count; k++) {
      if (!(track.isRapid(k) ? shown.rapid : shown.cut)) continue;
      for (const off of turns) {
        const [dx, dy] = upright ? [off, 0] : [0, off];
        const distance = Math.hypot(at.x(along[k] + dx) - px, at.y(other[k] + dy) - py);
        if (distance < 18 && (!best || distance < best.distance)) best = { distance, place: k };
      }
    }
    return best && best.place;
  }
  let down = null;
  holder.addEventListener("pointerdown", (event) => { down = [event.clientX, event.clientY, event.target]; }, true);
  // The plotting library lays a cover over the page while a button is down: where it is let go is heard from the document.
  document.addEventListener("pointerup", (event) => {
    const began = down;
    down = null;
    if (!began || holder.hidden || Math.hypot(event.clientX - began[0], event.clientY - began[1]) > 5 || began[2].closest(".modebar")) return;
    const box = holder.getBoundingClientRect(), found = pick(event.clientX - box.left, event.clientY - box.top);
    if (found !== null) place.set(found, "picture");
  }, true);
  holder.addEventListener("keydown", (event) => {
    const at = view(), zoom = (factor) => ({ "xaxis.range": about(now.x, factor), "yaxis.range": about(now.y, factor) });
    const shift = (dx, dy) => ({ "xaxis.range": now.x.map((value) => value + dx * (now.x[1] - now.x[0])), "yaxis.range": now.y.map((value) => value + dy * (now.y[1] - now.y[0])) });
    const keys = { "+": () => zoom(1 / 1.25), "=": () => zoom(1 / 1.25), "-": () => zoom(1.25), ArrowLeft: () => shift(-0.1, 0), ArrowRight: () => shift(0.1, 0),
      ArrowUp: () => shift(0, 0.1), ArrowDown: () => shift(0, -0.1), Home: () => ranges(even(whole)) };
    if (!keys[event.key] || !at) return;
    event.preventDefault();
    Plotly.relayout(plot, keys[event.key]());
  });
  const about = ([low, high], factor) => [(low + high) / 2 - (factor * (high - low)) / 2, (low + high) / 2 + (factor * (high - low)) / 2];
  place.listen(redraw);

  return { open, redraw, draw,
    themed() { if (ready) { Plotly.relayout(plot, layout()); redraw(); } },
    screen(k) { const at = view(); return [at.x(along[k]), at.y(other[k])]; },
    show(key, value) { if (key in shown) { shown[key] = value; redraw(); } } };
};
