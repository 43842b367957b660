// The surface unrolled: along the axis and around it, as seen from outside, in true lengths at the outside of the stock.
"use strict";

steadyrest.makeFlat = function (holder, canvas, facts, columns, track, colours, place) {
  const field = facts.field, radii = facts.axis !== "Z", pen = canvas.getContext("2d");
  const shown = { part: true, cut: true, rapid: true, numbers: true };
  const margin = { l: 66, r: 12, t: 10, b: 46 };
  // About X the angle rises downwards, about Y to the right: so the map is what one sees from outside, and text on it reads as on the part.
  const upright = facts.axis === "Y", degree = facts.degree || 1, turn = radii ? 360 * degree : 0;
  const names = new Map(facts.operations.map((one) => [one.number, one.name]));

  // A place on the map is two lengths, to the right and upwards. Axis X: along, minus the way around; Y: around, along; Z: x, y.
  const right = new Float32Array(track.count), up = new Float32Array(track.count);
  for (let k = 0; k < track.count; k++) [right[k], up[k]] = unrolled(track.part[3 * k], track.part[3 * k + 1], track.part[3 * k + 2]);
  function unrolled(x, y, z) {
    const [cx, cy, cz] = facts.centre, around = (angle) => degree * ((((angle * 180) / Math.PI % 360) + 360) % 360);
    if (facts.axis === "X") return [x, -around(Math.atan2(cy - y, z - cz))];
    if (facts.axis === "Y") return [around(Math.atan2(x - cx, z - cz)), y];
    return [x, y];
  }
  function range(column) {
    let low = Infinity, high = -Infinity;
    for (const value of column) { low = Math.min(low, value); high = Math.max(high, value); }
    const more = 0.05 * (high - low) || 1;
    return [low - more, high + more];
  }
  // Where the painted cells lie, as Python says, and the whole map; around the part the cells go on, a turn later and a turn before.
  const [first, second] = field ? field.onMap : [range(upright ? up : right), radii ? [0, 360] : range(up)];
  const boxOf = ([begin, end]) => {
    if (facts.axis === "X") return { left: first[0], right: first[1], top: -begin * degree, bottom: -end * degree };
    if (upright) return { left: begin * degree, right: end * degree, top: first[1], bottom: first[0] };
    return { left: first[0], right: first[1], top: end, bottom: begin };
  };
  const painted = boxOf(second), whole = boxOf(radii ? [0, 360] : second);

  const image = field && paint();
  // One pixel a cell: the colour of the operation that cut it last, lit from the upper left as the eye expects of a drawing.
  function paint() {
    const { n, m, firstStep, secondStep } = field, outer = columns.outer, last = columns.last_cut;
    const made = document.createElement("canvas");
    const [wide, high] = upright ? [m, n] : [n, m];
    made.width = wide; made.height = high;
    const brush = made.getContext("2d"), data = brush.createImageData(wide, high);
    const table = new Map([0, ...facts.operations.map((each) => each.number)].map((number) => [number, colours.parse(colours.ofOperation(number))]));
    const across = radii ? secondStep * Math.max(facts.swept, 1e-9) : secondStep;
    const one = 1 / (2 * firstStep), two = 1 / (2 * across);
    for (let i = 0; i < n; i++) {
      const next = Math.min(i + 1, n - 1) * m, before = Math.max(i - 1, 0) * m;
      for (let j = 0; j < m; j++) {
        const more = radii ? (j + 1) % m : Math.min(j + 1, m - 1), less = radii ? (j + m - 1) % m : Math.max(j - 1, 0);
        const a = (outer[next + j] - outer[before + j]) * one * field.step, b = (outer[i * m + more] - outer[i * m + less]) * two * field.step;
        const [toRight, upwards] = upright ? [b, a] : facts.axis === "X" ? [a, -b] : [a, b]; // slopes on the map
        const size = Math.sqrt(1 + toRight * toRight + upwards * upwards);
        const bright = Math.min(1.15, 0.42 + 0.62 * Math.max(0, (0.45 * toRight - 0.55 * upwards + 0.9) / size));
        const row = upright ? n - 1 - i : facts.axis === "X" ? j : m - 1 - j, column = upright ? j : i;
        const at = 4 * (row * wide + column), base = table.get(last[i * m + j]) || table.get(0);
        if (outer[i * m + j] > 0) { for (let part = 0; part < 3; part++) data.data[at + part] = base[part] * bright; data.data[at + 3] = 255; }
      }
    }
    brush.putImageData(data, 0, 0);
    return made;
  }
  // The same cells by their hatching: a mask for each kind of colour.
  const masks = image && (() => {
    const { width, height } = image, all = new Map(), { n, m } = field, last = columns.last_cut;
    for (let row = 0; row < height; row++) {
      for (let column = 0; column < width; column++) {
        const i = upright ? n - 1 - row : column, j = upright ? column : facts.axis === "X" ? row : m - 1 - row, kind = colours.kindOf(last[i * m + j]);
        if (!kind || !columns.outer[i * m + j]) continue;
        if (!all.has(kind)) all.set(kind, pen.createImageData(width, height));
        all.get(kind).data[4 * (row * width + column) + 3] = 255;
      }
    }
    return [...all].map(([kind, data]) => {
      const mask = document.createElement("canvas");
      mask.width = width; mask.height = height;
      mask.getContext("2d").putImageData(data, 0, 0);
      return [mask, pen.createPattern(colours.hatched(kind), "repeat")];
    });
  })();
  const over = document.createElement("canvas"), brush = over.getContext("2d");
  // Hatching is as fine however near one is; it keeps to what it lies on.
  function drawHatching(x, y, wide, high) {
    if (over.width !== canvas.clientWidth || over.height !== canvas.clientHeight) { over.width = canvas.clientWidth; over.height = canvas.clientHeight; }
    for (const [mask, pattern] of masks) {
      brush.globalCompositeOperation = "copy";
      brush.drawImage(mask, x, y, wide, high);
      brush.globalCompositeOperation = "source-in";
      brush.fillStyle = pattern;
      brush.fillRect(0, 0, over.width, over.height);
      pen.drawImage(over, 0, 0, over.width, over.height);
    }
  }
  // The cell of the field at a place on the map; -1 where there is none.
  function cellAt(x, y) {
    let across = (x - painted.left) / (painted.right - painted.left), down = (y - painted.top) / (painted.bottom - painted.top);
    const wrapped = (share) => ((share % 1) + 1) % 1;
    if (radii) { if (upright) across = wrapped(across); else down = wrapped(down); }
    if (!field || across < 0 || across >= 1 || down < 0 || down >= 1) return -1;
    const { n, m } = field, along = upright ? 1 - down : across, around = upright ? across : facts.axis === "X" ? down : 1 - down;
    return Math.min(n - 1, Math.floor(along * n)) * m + Math.min(m - 1, Math.floor(around * m));
  }

  // --- the view: its middle and how many pixels a length takes, alike both ways; null is the whole map
  let view = null;
  function room() { return { wide: Math.max(canvas.clientWidth - margin.l - margin.r, 1), high: Math.max(canvas.clientHeight - margin.t - margin.b, 1) }; }
  function fitted() {
    const { wide, high } = room();
    return { x: (whole.left + whole.right) / 2, y: (whole.top + whole.bottom) / 2, scale: Math.min(wide / (whole.right - whole.left), high / (whole.top - whole.bottom)) };
  }
  function mapping() {
    const { wide, high } = room(), { x, y, scale } = view || fitted(), midX = margin.l + wide / 2, midY = margin.t + high / 2;
    return { wide, high, scale, x: (value) => midX + (value - x) * scale, y: (value) => midY - (value - y) * scale,
      right: (pixel) => x + (pixel - midX) / scale, up: (pixel) => y - (pixel - midY) / scale };
  }
  function zoomBy(factor, px = margin.l + room().wide / 2, py = margin.t + room().high / 2) {
    const at = mapping(), here = [at.right(px), at.up(py)], least = fitted().scale, now = view || fitted();
    const scale = Math.max(0.5 * least, Math.min(2000 * least, now.scale * factor)), share = 1 - now.scale / scale;
    view = { x: now.x + share * (here[0] - now.x), y: now.y + share * (here[1] - now.y), scale };
    redraw();
  }
  function shiftBy(dx, dy) {
    const now = view || fitted(), within = (value, ends) => Math.max(Math.min(...ends), Math.min(Math.max(...ends), value));
    view = { x: within(now.x - dx / now.scale, [whole.left, whole.right]), y: within(now.y + dy / now.scale, [whole.top, whole.bottom]), scale: now.scale };
    redraw();
  }
  function all() { view = null; redraw(); }

  // --- marks of the two scales: [text, pixel]
  const LENGTHS = [-5, -4, -3, -2, -1, 0, 1, 2, 3, 4].flatMap((power) => [1, 2, 5].map((each) => each * 10 ** power));
  const ANGLES = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 45, 90, 180];
  function marksOf(low, high, unit, steps, room, toPixel, toText) {
    const step = steps.find((each) => each * unit >= room) || steps[steps.length - 1], found = [];
    const digits = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
    for (let count = Math.ceil(low / step - 1e-9); count * step <= high + 1e-9 * step; count++) found.push([toText(count * step, digits), toPixel(count * step)]);
    return found;
  }
  function marks() {
    const at = mapping(), length = (value, digits) => (value + 0).toFixed(digits), angle = (value, digits) => `${((((value % 360) + 360) % 360) + 0).toFixed(digits)}°`;
    const left = at.right(margin.l), end = at.right(margin.l + at.wide), top = at.up(margin.t), bottom = at.up(margin.t + at.high);
    return {
      x: upright ? marksOf(left / degree, end / degree, at.scale * degree, ANGLES, 64, (value) => at.x(value * degree), angle) : marksOf(left, end, at.scale, LENGTHS, 64, at.x, length),
      y: facts.axis === "X" ? marksOf(-top / degree, -bottom / degree, at.scale * degree, ANGLES, 40, (value) => at.y(-value * degree), angle) : marksOf(bottom, top, at.scale, LENGTHS, 40, at.y, length),
    };
  }
  const lengthName = `along ${facts.axis}, ${facts.units}`, [acrossName, downName] = !radii ? [`X, ${facts.units}`, `Y, ${facts.units}`] : upright ? ["angle", lengthName] : [lengthName, "angle"];

  // --- drawing
  let waiting = false;
  function redraw() {
    if (waiting || holder.hidden) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; if (!holder.hidden) draw(); });
  }
  function draw() {
    const dense = Math.min(window.devicePixelRatio || 1, 2), wide = Math.round(canvas.clientWidth * dense), high = Math.round(canvas.clientHeight * dense);
    if (!wide || !high) return;
    if (canvas.width !== wide || canvas.height !== high) { canvas.width = wide; canvas.height = high; }
    const at = mapping(), theme = colours.themed();
    pen.setTransform(dense, 0, 0, dense, 0, 0);
    pen.clearRect(0, 0, canvas.clientWidth, canvas.clientHeight);
    pen.save();
    pen.beginPath(); pen.rect(margin.l, margin.t, at.wide, at.high); pen.clip();
    const seen = radii ? [-turn, 0, turn].filter((off) => inSight(at, off)) : [0];
    if (image && shown.part) {
      pen.imageSmoothingEnabled = at.scale * ((painted.right - painted.left) / image.width) < 3;
      for (const off of seen) {
        const [dx, dy] = upright ? [off, 0] : [0, off], x = at.x(painted.left + dx), y = at.y(painted.top + dy);
        const box = [x, y, at.x(painted.right + dx) - x, at.y(painted.bottom + dy) - y];
        pen.drawImage(image, ...box);
        drawHatching(...box);
      }
    }
    for (const off of seen) drawPath(at, theme, off);
    for (const off of seen) drawThrough(at, theme, off);
    if (radii) drawVeil(at, theme);
    if (shown.numbers) drawNumbers(at, theme);
    pen.restore();
    for (const off of seen) { if (shown.numbers) drawFindings(at, theme, off); drawTool(at, theme, off); } // whole, also where the turns meet
    drawScales(at, theme);
    canvas.dataset.drawn = String(Number(canvas.dataset.drawn || 0) + 1);
  }
  // Whether anything of the map, moved by `off` around, is in sight.
  function inSight(at, off) {
    const [low, high] = upright ? [painted.left, painted.right] : [painted.bottom, painted.top];
    const [from, to] = upright ? [at.right(margin.l), at.right(margin.l + at.wide)] : [at.up(margin.t + at.high), at.up(margin.t)];
    return Math.max(high, upright ? turn : 0) + off >= from && Math.min(low, upright ? 0 : -turn) + off <= to;
  }
  const mixed = (a, b, share) => `rgb(${a.map((value, k) => Math.round(value + share * (b[k] - value))).join(",")})`;
  function drawPath(at, theme, off) {
    const [dx, dy] = upright ? [off, 0] : [0, off], around = upright ? right : up, ink = colours.parse(theme.ink);
    for (const rapid of [true, false]) {
      if (!(rapid ? shown.rapid : shown.cut)) continue;
      pen.setLineDash(rapid ? [5, 4] : []);
      let kind = null, joined = false;
      pen.beginPath();
      for (let k = 1; k < track.count; k++) {
        if (track.isRapid(k) !== rapid || (radii && Math.abs(around[k] - around[k - 1]) > turn / 2)) { joined = false; continue; }
        const wanted = rapid ? 0 : track.operation[k];
        if (wanted !== kind) {
          pen.stroke();
          pen.strokeStyle = rapid ? theme.soft : mixed(colours.parse(colours.ofOperation(wanted)), ink, 0.55);
          pen.lineWidth = (rapid ? 1 : 1.6) * (!rapid && wanted === place.state.operation ? 1.8 : 1); // the operation that is shown is lit
          pen.beginPath();
          kind = wanted;
          joined = false;
        }
        if (!joined) pen.moveTo(at.x(right[k - 1] + dx), at.y(up[k - 1] + dy));
        pen.lineTo(at.x(right[k] + dx), at.y(up[k] + dy));
        joined = true;
      }
      pen.stroke();
    }
    pen.setLineDash([]);
  }
  // The finding that the program is in, where it goes on over several lines.
  function drawThrough(at, theme, off) {
    const lit = facts.foundAt(place.state.line), [dx, dy] = upright ? [off, 0] : [0, off], around = upright ? right : up;
    if (!lit) return;
    pen.strokeStyle = theme.bad; pen.lineWidth = 4;
    pen.beginPath();
    for (let k = lit.way[0] + 1; k <= lit.way[1]; k++) {
      if (radii && Math.abs(around[k] - around[k - 1]) > turn / 2) continue;
      pen.moveTo(at.x(right[k - 1] + dx), at.y(up[k - 1] + dy));
      pen.lineTo(at.x(right[k] + dx), at.y(up[k] + dy));
    }
    pen.stroke();
  }
  function ring(x, y, radius, width, colour) { pen.lineWidth = width; pen.strokeStyle = colour; pen.beginPath(); pen.arc(x, y, radius, 0, 7); pen.stroke(); }
  // The pixel of a place in the one turn that is not veiled, where it is in sight.
  function inTurn(at, x, y, off) {
    const around = upright ? x + off : -(y + off), px = at.x(x + (upright ? off : 0)), py = at.y(y + (upright ? 0 : off)), edge = 0.5 / at.scale;
    const seen = px >= margin.l - 1 && px <= margin.l + at.wide + 1 && py >= margin.t - 1 && py <= margin.t + at.high + 1;
    return seen && (!radii || (around >= -edge && around <= turn + edge)) ? [px, py] : null;
  }
  // Findings where the program stands in the line that they name, with the numbers that they have on the page.
  function drawFindings(at, theme, off) {
    for (const { number, place: stand, line, sign } of facts.marked) {
      const [x, y] = unrolled(...track.state(stand).part), size = line === place.state.line ? 13 : 9;
      const there = inTurn(at, x, y, off);
      if (there) steadyrest.mark(pen, ...there, size, number, theme, sign);
    }
  }
  function drawTool(at, theme, off) {
    const there = inTurn(at, ...unrolled(...place.state.part), off);
    if (!there) return;
    ring(...there, 8, 3, theme.ink);
    ring(...there, 6, 1.4, theme.card);
  }
  // The turns before and after are the same surface again: veiled, so that each place is seen once.
  function drawVeil(at, theme) {
    pen.fillStyle = theme.stage;
    pen.globalAlpha = 0.65;
    const [begin, end] = upright ? [at.x(0), at.x(turn)] : [at.y(0), at.y(-turn)];
    if (upright) { pen.fillRect(0, 0, begin, canvas.clientHeight); pen.fillRect(end, 0, canvas.clientWidth, canvas.clientHeight); }
    else { pen.fillRect(0, 0, canvas.clientWidth, begin); pen.fillRect(0, end, canvas.clientWidth, canvas.clientHeight); }
    pen.globalAlpha = 1;
  }
  // Where the operations' numbers stand, so that nobody has to tell them by their colours: as far inside what each cut as can be seen
  // now, else on its path.
  function numbers(at) {
    const STEP = 5, columnsSeen = Math.floor(at.wide / STEP), rowsSeen = Math.floor(at.high / STEP), deepest = new Map();
    if (image && shown.part) {
      const which = new Uint16Array(columnsSeen * rowsSeen), deep = new Uint16Array(which.length);
      const centre = (k) => [margin.l + STEP * ((k % columnsSeen) + 0.5), margin.t + STEP * (Math.floor(k / columnsSeen) + 0.5)];
      for (let k = 0; k < which.length; k++) {
        const [px, py] = centre(k), x = at.right(px), y = at.up(py), cell = radii && (upright ? x < 0 || x > turn : y > 0 || y < -turn) ? -1 : cellAt(x, y);
        which[k] = cell < 0 || !columns.outer[cell] ? 0 : columns.last_cut[cell];
      }
      // How many steps each is from another operation, from above and the left, then from below and the right too.
      const from = (k, other, inside) => (inside && which[other] === which[k] ? deep[other] : 0);
      for (let k = 0; k < which.length; k++) if (which[k]) deep[k] = 1 + Math.min(from(k, k - columnsSeen, k >= columnsSeen), from(k, k - 1, k % columnsSeen > 0));
      for (let k = which.length - 1; k >= 0; k--) {
        if (!which[k]) continue;
        deep[k] = Math.min(deep[k], 1 + Math.min(from(k, k + columnsSeen, k + columnsSeen < which.length), from(k, k + 1, (k + 1) % columnsSeen > 0)));
        if (deep[k] > 1 && deep[k] > (deepest.get(which[k])?.deep || 0)) deepest.set(which[k], { deep: deep[k], place: centre(k) });
      }
    }
    if (shown.cut || shown.part) {
      for (let k = 1; k < track.count; k++) {
        const px = at.x(right[k]), py = at.y(up[k]);
        if (track.isRapid(k) || deepest.has(track.operation[k]) || px < margin.l || px > margin.l + at.wide || py < margin.t || py > margin.t + at.high) continue;
        deepest.set(track.operation[k], { place: [px, py] });
      }
    }
    const free = [];
    for (const [number, { place: [x, y] }] of [...deepest].sort(([a], [b]) => a - b)) if (names.has(number) && free.every(([, a, b]) => Math.hypot(a - x, b - y) > 20)) free.push([number, x, y]);
    return free;
  }
  function drawNumbers(at, theme) {
    pen.font = "700 14px system-ui, sans-serif"; pen.textAlign = "center"; pen.textBaseline = "middle";
    for (const [number, x, y] of numbers(at)) {
      const half = Math.max(9, pen.measureText(number).width / 2 + 4);
      pen.fillStyle = theme.card; pen.strokeStyle = theme.ink; pen.lineWidth = 1;
      // At the edge, and where the turns meet, whole and inside.
      const px = Math.min(Math.max(x, margin.l + half + 1), margin.l + at.wide - half - 1), py = Math.min(Math.max(y, margin.t + 10), margin.t + at.high - 10);
      pen.beginPath(); pen.ellipse(px, py, half, 9, 0, 0, 7); pen.fill(); pen.stroke();
      pen.fillStyle = theme.ink;
      pen.fillText(number, px, py + 0.5);
    }
  }
  function drawScales(at, theme) {
    const bottom = margin.t + at.high, { x, y } = marks();
    pen.strokeStyle = theme.soft; pen.lineWidth = 1; pen.fillStyle = theme.ink; pen.font = "14px system-ui, sans-serif";
    pen.strokeRect(margin.l + 0.5, margin.t + 0.5, at.wide - 1, at.high - 1);
    pen.beginPath();
    pen.textAlign = "center"; pen.textBaseline = "top";
    for (const [text, pixel] of x) { pen.moveTo(pixel, bottom); pen.lineTo(pixel, bottom + 5); pen.fillText(text, pixel, bottom + 7); }
    pen.fillText(acrossName, margin.l + at.wide / 2, bottom + 26);
    pen.textAlign = "right"; pen.textBaseline = "middle";
    for (const [text, pixel] of y) { pen.moveTo(margin.l, pixel); pen.lineTo(margin.l - 5, pixel); pen.fillText(text, margin.l - 8, pixel); }
    pen.stroke();
    pen.save();
    pen.translate(12, margin.t + at.high / 2);
    pen.rotate(-Math.PI / 2);
    pen.textAlign = "center";
    pen.fillText(downName, 0, 0);
    pen.restore();
  }

  // --- what is under the pointer, in words
  const said = document.createElement("p");
  said.className = "hint reading";
  said.setAttribute("aria-hidden", "true"); // the listing and the readout say it for whoever goes by keys
  holder.append(said);
  const decimals = facts.units === "inch" ? 4 : 3;
  function say(px, py) {
    const at = mapping(), x = at.right(px), y = at.up(py), cell = cellAt(x, y);
    if (px < margin.l || px > margin.l + at.wide || py < margin.t || py > margin.t + at.high) { said.textContent = ""; return; }
    const angle = () => `${((((upright ? x : -y) / degree % 360) + 360) % 360).toFixed(1)}°`;
    const words = radii ? [`${facts.axis} ${(upright ? y : x).toFixed(decimals)}`, angle()] : [`X ${x.toFixed(decimals)}`, `Y ${y.toFixed(decimals)}`];
    if (cell >= 0 && columns.outer[cell] > 0) {
      const number = columns.last_cut[cell], height = columns.outer[cell] * field.step + (radii ? 0 : field.base + facts.centre[2]);
      words.push(`${radii ? "radius" : "Z"} ${height.toFixed(decimals - 1)}`, number ? `cut by ${number} ${names.get(number) || ""}` : "not cut");
    }
    said.textContent = words.join(", ");
  }

  // --- mouse, finger, keys
  function pick(px, py) {
    const at = mapping(), offs = radii ? [-turn, 0, turn] : [0];
    let best = null;
    for (let k = 1; k < track.count; k++) {
      if (!(track.isRapid(k) ? shown.rapid : shown.cut)) continue;
      for (const off of offs) {
        const distance = Math.hypot(at.x(right[k] + (upright ? off : 0)) - px, at.y(up[k] + (upright ? 0 : off)) - py);
        if (distance < 18 && (!best || distance < best.distance)) best = { distance, place: k };
      }
    }
    return best && best.place;
  }
  steadyrest.gestures(canvas, {
    drag: (dx, dy, _, fingers) => shiftBy(dx / fingers, dy / fingers),
    zoomBy,
    tapped: (x, y) => { const found = pick(x, y); if (found !== null) place.set(found, "picture"); },
    still: 5,
  });
  canvas.addEventListener("pointermove", (event) => say(event.offsetX, event.offsetY));
  canvas.addEventListener("pointerleave", () => { said.textContent = ""; });
  canvas.addEventListener("dblclick", all);
  const acts = { "+": () => zoomBy(1.25), "=": () => zoomBy(1.25), "-": () => zoomBy(1 / 1.25), ArrowLeft: () => shiftBy(60, 0), ArrowRight: () => shiftBy(-60, 0),
    ArrowUp: () => shiftBy(0, 60), ArrowDown: () => shiftBy(0, -60), Home: all };
  canvas.addEventListener("keydown", (event) => {
    if (!acts[event.key] || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    acts[event.key]();
  });
  for (const button of holder.querySelectorAll("[data-zoom]")) button.addEventListener("click", acts[button.dataset.zoom]);
  new ResizeObserver(redraw).observe(holder);
  place.listen(redraw);

  return { redraw, draw, marks, mapping, numbers: () => numbers(mapping()),
    screen(k) { const at = mapping(); return [at.x(right[k]), at.y(up[k])]; },
    show(key, value) { if (key in shown) { shown[key] = value; redraw(); } } };
};
