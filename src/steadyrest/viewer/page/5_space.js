// The picture in space: part, path and tool, on the part or as the machine sees them. Without perspective, upright as the machine stands.
"use strict";

steadyrest.makeSpace = function (canvas, over, facts, columns, track, colours, place) {
  const gl = canvas.getContext("webgl2", { antialias: true, preserveDrawingBuffer: true });
  if (!gl) return null;
  const { shaders, program } = steadyrest;
  const pen = over.getContext("2d");
  const field = facts.field;
  const shown = { part: true, cut: true, rapid: true, through: false, view: "part" };
  const axis = { X: 0, Y: 1, Z: 2 }[facts.axis];

  // --- what there is to draw
  const partProgram = field && program(gl, shaders.common + shaders.field + shaders.partVertex, shaders.common + shaders.field + shaders.partFragment);
  const pathProgram = program(gl, shaders.common + shaders.pathVertex, shaders.common + shaders.pathFragment);
  const toolProgram = program(gl, shaders.common + shaders.toolVertex, shaders.common + shaders.toolFragment);

  function texture(form, inner, kind, width, height, data) {
    const made = gl.createTexture();
    gl.bindTexture(gl.TEXTURE_2D, made);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 1);
    gl.texImage2D(gl.TEXTURE_2D, 0, inner, width, height, 0, form, kind, data);
    for (const key of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, key, gl.NEAREST);
    for (const key of [gl.TEXTURE_WRAP_S, gl.TEXTURE_WRAP_T]) gl.texParameteri(gl.TEXTURE_2D, key, gl.CLAMP_TO_EDGE);
    return made;
  }
  // Which way each cell looks: outward, around, along (radii), or z, y, x (heights), as bytes about 128; then what cut it last, 255 nothing.
  function lookOf() {
    const { n, m, step, firstStep, secondStep } = field, radii = field.chart === "radii", outer = columns.outer, last = columns.last_cut;
    const out = new Uint8Array(4 * n * m);
    for (let i = 0; i < n; i++) {
      const up = Math.min(i + 1, n - 1), down = Math.max(i - 1, 0), one = step / ((up - down) * firstStep || 1);
      for (let j = 0; j < m; j++) {
        const here = outer[i * m + j], at = 4 * (i * m + j);
        if (here === 0) { out[at + 3] = 255; continue; }
        const right = radii ? (j + 1 === m ? 0 : j + 1) : Math.min(j + 1, m - 1), left = radii ? (j === 0 ? m - 1 : j - 1) : Math.max(j - 1, 0);
        const slope = (outer[up * m + j] - outer[down * m + j]) * one;
        const turn = ((outer[i * m + right] - outer[i * m + left]) * step) / (2 * secondStep * (radii ? here * step : 1));
        const size = 127 / Math.sqrt(1 + slope * slope + turn * turn);
        out[at] = 128 + size; out[at + 1] = 128.5 - turn * size; out[at + 2] = 128.5 - slope * size;
        out[at + 3] = colours.kindOf(last[i * m + j]);
      }
    }
    return out;
  }
  // A grid over the field, its ends closed; `rows` by `fine` cells.
  function gridOf(rows, fine) {
    const radii = field.chart === "radii", high = rows + 5, wide = radii ? fine + 1 : fine + 3;
    const index = new Uint32Array(6 * (high - 1) * (wide - 1));
    let at = 0;
    for (let r = 0; r + 1 < high; r++) {
      for (let c = 0; c + 1 < wide; c++) {
        const a = r * wide + c, b = a + wide;
        index[at++] = a; index[at++] = b; index[at++] = a + 1; index[at++] = a + 1; index[at++] = b; index[at++] = b + 1;
      }
    }
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, index, gl.STATIC_DRAW);
    gl.bindVertexArray(null);
    return { array, count: index.length, rows, fine };
  }
  const surface = field && {
    outer: texture(gl.RED_INTEGER, gl.R16UI, gl.UNSIGNED_SHORT, field.m, field.n, columns.outer),
    look: texture(gl.RGBA_INTEGER, gl.RGBA8UI, gl.UNSIGNED_BYTE, field.m, field.n, lookOf()),
    light: gridOf(Math.min(field.n, 128), Math.min(field.m, 160)),
    full: null,
  };

  // A ribbon through some of the positions; each instance is the way from one to the next, and knows which position that is.
  function ribbon(points, chosen) {
    const places = new Float32Array(3 * chosen.length), kinds = new Float32Array(3 * chosen.length);
    chosen.forEach((k, at) => {
      places.set(points.subarray(3 * k, 3 * k + 3), 3 * at);
      kinds.set([colours.kindOf(track.operation[k]), track.flags[k], k], 3 * at);
    });
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    for (const [data, slots] of [[places, [[0, 0], [1, 12]]], [kinds, [[2, 12]]]]) {
      gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
      gl.bufferData(gl.ARRAY_BUFFER, data, gl.STATIC_DRAW);
      for (const [slot, offset] of slots) {
        gl.enableVertexAttribArray(slot);
        gl.vertexAttribPointer(slot, 3, gl.FLOAT, false, 12, offset);
        gl.vertexAttribDivisor(slot, 1);
      }
    }
    gl.bindVertexArray(null);
    return { array, count: Math.max(chosen.length - 1, 0) };
  }
  // Positions some way apart, and those where the kind of motion changes: enough while the picture moves on a slow machine.
  function sparse(points, apart) {
    const chosen = [];
    for (let k = 0, last = 0; k < track.count; k++) {
      const far = Math.hypot(points[3 * k] - points[3 * last], points[3 * k + 1] - points[3 * last + 1], points[3 * k + 2] - points[3 * last + 2]) > apart;
      const turns = k + 1 >= track.count || track.flags[k] !== track.flags[k + 1] || track.operation[k] !== track.operation[k + 1];
      if (k === 0 || far || turns) { chosen.push(k); last = k; }
    }
    return chosen;
  }
  const whole = Array.from({ length: track.count }, (_, k) => k);
  const size = Math.hypot(...facts.box.low.map((value, k) => facts.box.high[k] - value)) || 1;
  const ribbons = {};
  function ribbonOf(view, fine) {
    const level = fine ? 99 : Math.max(0, Math.floor(Math.log2(eye.zoom)));
    const key = `${view} ${level}`, points = view === "machine" ? track.work : track.part;
    ribbons[key] = ribbons[key] || ribbon(points, fine ? whole : sparse(points, (0.006 * size) / 2 ** level));
    return ribbons[key];
  }

  // A solid of revolution from its outline of (radius, height), tip first.
  const tools = {};
  for (const [number, tool] of Object.entries(facts.tools)) {
    const round = 28, numbers = [];
    const outline = tool.outline;
    for (let s = 0; s + 1 < outline.length; s++) {
      const [r0, z0] = outline[s], [r1, z1] = outline[s + 1], slope = Math.hypot(r1 - r0, z1 - z0) || 1;
      const nr = (z1 - z0) / slope, nz = -(r1 - r0) / slope;
      for (let k = 0; k < round; k++) {
        for (const [turn, r, z] of [[k, r0, z0], [k + 1, r0, z0], [k, r1, z1], [k, r1, z1], [k + 1, r0, z0], [k + 1, r1, z1]]) {
          const a = (2 * Math.PI * turn) / round, c = Math.cos(a), q = Math.sin(a);
          numbers.push(r * c, r * q, z, nr * c, nr * q, nz);
        }
      }
    }
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(numbers), gl.STATIC_DRAW);
    gl.enableVertexAttribArray(0); gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 24, 0);
    gl.enableVertexAttribArray(1); gl.vertexAttribPointer(1, 3, gl.FLOAT, false, 24, 12);
    gl.bindVertexArray(null);
    tools[number] = { array, count: numbers.length / 6 };
  }

  // --- the eye
  const eye = { azimuth: -0.6, elevation: 0.5, zoom: 1, pan: [0, 0], target: [0, 0, 0], reach: 1 };
  function frame() {
    const low = facts.box.low, high = facts.box.high;
    eye.target = low.map((value, k) => (value + high[k]) / 2);
    eye.box = low.map((value, k) => (high[k] - value) / 2);
    eye.reach = Math.max(Math.hypot(...eye.box), 1e-6);
    eye.zoom = 1;
    eye.pan = [0, 0];
  }
  frame();
  // Rows: to the right, upwards, away from the eye, in X, Y, Z; the eye turns in the frame of whoever stands in front of the machine.
  function basis() {
    const { azimuth: a, elevation: e } = eye;
    const machine = (way) => [0, 1, 2].map((k) => way.reduce((sum, value, at) => sum + value * facts.person[at][k], 0));
    const right = [Math.cos(a), Math.sin(a), 0], ahead = [-Math.sin(a), Math.cos(a), 0];
    const up = [Math.sin(e) * ahead[0], Math.sin(e) * ahead[1], Math.cos(e)];
    const away = [Math.cos(e) * ahead[0], Math.cos(e) * ahead[1], -Math.sin(e)];
    return [right, up, away].map(machine);
  }
  // Pixels (CSS) per length unit: the box as seen from here fills the picture.
  function pixels() {
    const rows = basis();
    const half = rows.map((row) => Math.max(1e-9, row.reduce((sum, value, k) => sum + Math.abs(value) * eye.box[k], 0)));
    return 0.86 * eye.zoom * Math.min(canvas.clientWidth / 2 / half[0], canvas.clientHeight / 2 / half[1]);
  }
  function project(point) {
    const scale = pixels(), d = point.map((value, k) => value - eye.target[k]);
    const [x, y, z] = basis().map((row) => row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
    return [canvas.clientWidth / 2 + eye.pan[0] + scale * x, canvas.clientHeight / 2 + eye.pan[1] - scale * y, z];
  }

  // --- drawing: in full where the machine is quick enough, else with the light grid while things move, and in full when they rest
  const EVEN = 50, PATIENCE = 1500; // milliseconds: what still looks even, and what somebody may have to wait for a picture at rest
  let waiting = false, drawn = 0, full = false, slow = true, hopeless = true, rest = 0;
  function redraw() {
    clearTimeout(rest);
    if (slow) full = false;
    if (!full && !hopeless) rest = setTimeout(() => { if (!canvas.hidden && !document.hidden) drawFull(); }, 350);
    if (waiting || canvas.hidden) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; if (!canvas.hidden) draw(); });
  }
  function drawFull() {
    if (surface) surface.full = surface.full || gridOf(Math.min(field.n, 448), Math.min(field.m, 384));
    full = true;
    draw();
  }
  // How long the card takes for a picture; known when its fence is passed.
  function timed(drawIt) {
    const began = performance.now();
    drawIt();
    const fence = gl.fenceSync(gl.SYNC_GPU_COMMANDS_COMPLETE, 0);
    gl.flush();
    return new Promise((done) => {
      const look = () => {
        if (gl.isContextLost() || gl.clientWaitSync(fence, 0, 0) !== gl.TIMEOUT_EXPIRED) { gl.deleteSync(fence); done(performance.now() - began); } else setTimeout(look, 4);
      };
      setTimeout(look, 0);
    });
  }
  // Find out whether the picture can be drawn in full: at rest, or always. A picture in full is some ten times the work of a light one.
  async function refine() {
    await timed(draw); // what waits to be drawn is not counted
    hopeless = 10 * (await timed(draw)) > PATIENCE;
    if (hopeless || canvas.hidden) return;
    slow = (await timed(drawFull)) > EVEN;
  }
  function common(at, turn) {
    const rows = basis(), scale = pixels();
    const moved = eye.target.map((value, k) => value - (rows[0][k] * eye.pan[0] - rows[1][k] * eye.pan[1]) / scale);
    gl.uniformMatrix3fv(at.uEye, false, [0, 1, 2].flatMap((column) => rows.map((row) => row[column])));
    gl.uniform3fv(at.uTarget, moved);
    gl.uniform2f(at.uScale, (2 * scale) / canvas.clientWidth, (2 * scale) / canvas.clientHeight);
    gl.uniform1f(at.uDepth, 1 / (12 * eye.reach));
    gl.uniform3fv(at.uCentre, facts.centre);
    gl.uniform1i(at.uAxis, axis);
    gl.uniform2f(at.uTurn, Math.cos(turn), Math.sin(turn));
  }
  const unit = (text) => colours.parse(text).map((value) => value / 255);
  const palette = colours.kinds.flatMap(unit);

  function draw() {
    const density = Math.min(window.devicePixelRatio || 1, 2);
    const wide = Math.max(1, Math.round(canvas.clientWidth * density)), high = Math.max(1, Math.round(canvas.clientHeight * density));
    if (canvas.width !== wide || canvas.height !== high) { canvas.width = over.width = wide; canvas.height = over.height = high; }
    const theme = colours.themed(), state = place.state, machine = shown.view === "machine";
    const turn = machine ? state.phi : 0;
    gl.viewport(0, 0, wide, high);
    gl.clearColor(...unit(theme.stage), 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.disable(gl.BLEND);
    if (surface && shown.part) {
      const mesh = full && surface.full ? surface.full : surface.light;
      const { program: used, at } = partProgram;
      gl.useProgram(used);
      common(at, turn);
      gl.activeTexture(gl.TEXTURE0); gl.bindTexture(gl.TEXTURE_2D, surface.outer); gl.uniform1i(at.uOuter, 0);
      gl.activeTexture(gl.TEXTURE1); gl.bindTexture(gl.TEXTURE_2D, surface.look); gl.uniform1i(at.uLook, 1);
      gl.uniform1f(at.uStep, facts.field.step);
      gl.uniform2i(at.uCells, field.n, field.m);
      gl.uniform4f(at.uGrid, field.first, field.firstStep, field.second, field.secondStep);
      gl.uniform1f(at.uBase, field.base);
      gl.uniform1i(at.uRadii, field.chart === "radii" ? 1 : 0);
      gl.uniform1i(at.uSpan, Math.ceil(Math.max(field.n / mesh.rows, field.chart === "radii" ? 1 : field.m / mesh.fine)));
      gl.uniform2i(at.uMesh, mesh.rows, mesh.fine);
      gl.uniform3fv(at.uPalette, palette);
      gl.enable(gl.POLYGON_OFFSET_FILL);
      gl.polygonOffset(1, 2);
      gl.bindVertexArray(mesh.array);
      gl.drawElements(gl.TRIANGLES, mesh.count, gl.UNSIGNED_INT, 0);
      gl.disable(gl.POLYGON_OFFSET_FILL);
    }
    if (track.count > 1 && (shown.cut || shown.rapid)) {
      const { program: used, at } = pathProgram;
      gl.useProgram(used);
      common(at, turn);
      gl.uniform2f(at.uView, wide, high);
      gl.uniform1f(at.uWide, 1.15 * density);
      gl.uniform1f(at.uNow, place.place + 1e-6);
      gl.uniform1f(at.uNear, 0.02 * facts.swept / (12 * eye.reach));
      gl.uniform1i(at.uShowCut, shown.cut ? 1 : 0);
      gl.uniform1i(at.uShowRapid, shown.rapid ? 1 : 0);
      gl.uniform3fv(at.uPalette, palette);
      gl.uniform3fv(at.uInk, unit(theme.ink));
      gl.uniform3fv(at.uRapid, unit(theme.soft));
      if (shown.through) gl.disable(gl.DEPTH_TEST);
      const drawnRibbon = ribbonOf(machine ? "machine" : "part", full);
      gl.bindVertexArray(drawnRibbon.array);
      gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, drawnRibbon.count);
      gl.enable(gl.DEPTH_TEST);
    }
    const tool = tools[state.tool];
    if (tool) {
      const { program: used, at } = toolProgram;
      gl.useProgram(used);
      common(at, 0);
      const cos = Math.cos(-state.phi), sin = Math.sin(-state.phi);
      const upright = [[1, 0, 0], [0, 0, 1]];
      const swung = [[[1, 0, 0], [0, -sin, cos]], [[cos, 0, -sin], [sin, 0, cos]], [[cos, sin, 0], [0, 0, 1]]][axis];
      const [x, z] = machine ? upright : swung;
      gl.uniform3fv(at.uTip, machine ? state.work : state.part);
      gl.uniform3fv(at.uToolX, x);
      gl.uniform3fv(at.uToolZ, z);
      gl.uniform3fv(at.uTool, unit(theme.soft));
      gl.enable(gl.BLEND);
      gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
      gl.bindVertexArray(tool.array);
      gl.drawArrays(gl.TRIANGLES, 0, tool.count);
      gl.disable(gl.BLEND);
    }
    gl.bindVertexArray(null);
    drawOver(density, theme, state, machine);
    drawn += 1;
    canvas.dataset.drawn = String(drawn);
  }

  // The chuck at the held end: lines that no part hides, faint, and what it is. It turns with the part.
  function drawChuck(theme, phi) {
    if (!facts.chuck) return;
    const [u, v] = [[1, 2], [2, 0], [0, 1]][axis], cos = Math.cos(phi), sin = Math.sin(phi);
    const turned = (point) => {
      const out = point.slice(), a = point[u] - facts.centre[u], b = point[v] - facts.centre[v];
      out[u] = facts.centre[u] + cos * a - sin * b; out[v] = facts.centre[v] + sin * a + cos * b;
      return out;
    };
    pen.strokeStyle = theme.soft;
    pen.lineWidth = 1.2;
    pen.globalAlpha = 0.7;
    for (const line of facts.chuck.lines) {
      pen.beginPath();
      line.forEach((point, k) => (k ? pen.lineTo(...project(turned(point)).slice(0, 2)) : pen.moveTo(...project(turned(point)).slice(0, 2))));
      pen.stroke();
    }
    pen.font = "13px system-ui, sans-serif";
    pen.textAlign = "right"; pen.textBaseline = "bottom";
    const x = canvas.clientWidth - 10, y = canvas.clientHeight - 54, wide = pen.measureText(facts.chuck.label).width;
    pen.fillStyle = theme.stage;
    pen.fillRect(x - wide - 4, y - 18, wide + 8, 20);
    pen.globalAlpha = 1;
    pen.fillStyle = theme.ink;
    pen.fillText(facts.chuck.label, x, y);
  }

  // Directions of the axes, and a ring round the tip that no part hides.
  function drawOver(density, theme, state, machine) {
    pen.setTransform(density, 0, 0, density, 0, 0);
    pen.clearRect(0, 0, over.width, over.height);
    const [x, y] = project(machine ? state.work : state.part);
    pen.lineWidth = 2.5;
    pen.strokeStyle = theme.ink;
    pen.beginPath(); pen.arc(x, y, 8, 0, 7); pen.stroke();
    pen.strokeStyle = theme.card;
    pen.lineWidth = 1.2;
    pen.beginPath(); pen.arc(x, y, 6, 0, 7); pen.stroke();
    drawChuck(theme, machine ? state.phi : 0);
    const corner = [46, canvas.clientHeight - 50], rows = basis();
    pen.font = "600 15px system-ui, sans-serif";
    pen.textAlign = "center"; pen.textBaseline = "middle";
    ["X", "Y", "Z"].forEach((name, k) => {
      const dx = rows[0][k] * 30, dy = -rows[1][k] * 30;
      pen.strokeStyle = pen.fillStyle = theme.ink;
      pen.lineWidth = 2;
      pen.beginPath(); pen.moveTo(...corner); pen.lineTo(corner[0] + dx, corner[1] + dy); pen.stroke();
      if (Math.hypot(dx, dy) > 6) pen.fillText(name, corner[0] + dx * 1.35, corner[1] + dy * 1.35);
    });
  }

  // --- finding the path under a finger: the nearest stretch that is not behind the part as far as can be told by its depth
  function pick(px, py) {
    const points = shown.view === "machine" ? track.work : track.part;
    const scale = pixels(), rows = basis(), [tx, ty, tz] = eye.target;
    const cx = canvas.clientWidth / 2 + eye.pan[0], cy = canvas.clientHeight / 2 + eye.pan[1];
    let best = null, ax = 0, ay = 0, az = 0;
    for (let k = 0; k < track.count; k++) {
      const dx = points[3 * k] - tx, dy = points[3 * k + 1] - ty, dz = points[3 * k + 2] - tz;
      const bx = cx + scale * (rows[0][0] * dx + rows[0][1] * dy + rows[0][2] * dz), by = cy - scale * (rows[1][0] * dx + rows[1][1] * dy + rows[1][2] * dz);
      const bz = rows[2][0] * dx + rows[2][1] * dy + rows[2][2] * dz;
      if (k > 0 && (track.isRapid(k) ? shown.rapid : shown.cut)) {
        const wx = bx - ax, wy = by - ay, length = wx * wx + wy * wy;
        const share = length ? Math.min(1, Math.max(0, ((px - ax) * wx + (py - ay) * wy) / length)) : 1;
        const off = Math.hypot(px - ax - share * wx, py - ay - share * wy);
        if (off < 14) {
          const cost = off + (8 * (az + share * (bz - az))) / eye.reach;
          if (!best || cost < best.cost) best = { cost, place: k - 1 + Math.max(share, 1e-6) };
        }
      }
      ax = bx; ay = by; az = bz;
    }
    return best && best.place;
  }

  // --- mouse, finger, keys
  function turnBy(dx, dy) {
    eye.azimuth -= dx * 0.008;
    eye.elevation = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, eye.elevation + dy * 0.008));
    redraw();
  }
  function zoomBy(factor, px = canvas.clientWidth / 2, py = canvas.clientHeight / 2) {
    const next = Math.max(0.2, Math.min(400, eye.zoom * factor)), real = next / eye.zoom;
    const x = px - canvas.clientWidth / 2, y = py - canvas.clientHeight / 2;
    eye.pan = [x - (x - eye.pan[0]) * real, y - (y - eye.pan[1]) * real];
    eye.zoom = next;
    redraw();
  }
  steadyrest.gestures(canvas, {
    drag(dx, dy, event, fingers) {
      if (fingers < 2 && !event.shiftKey && event.buttons !== 2 && event.buttons !== 4) return turnBy(dx, dy);
      eye.pan = [eye.pan[0] + dx / fingers, eye.pan[1] + dy / fingers];
      return redraw();
    },
    zoomBy,
    tapped: (x, y) => { const found = pick(x, y); if (found !== null) place.set(found, "picture"); },
    still: 0,
  });
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  function face(name) {
    [eye.azimuth, eye.elevation] = facts.looks[name];
    frame();
    redraw();
  }
  canvas.addEventListener("keydown", (event) => {
    const step = 12;
    const keys = { ArrowLeft: () => turnBy(-step, 0), ArrowRight: () => turnBy(step, 0), ArrowUp: () => turnBy(0, -step), ArrowDown: () => turnBy(0, step),
      "+": () => zoomBy(1.2), "=": () => zoomBy(1.2), "-": () => zoomBy(1 / 1.2), Home: () => { frame(); redraw(); } };
    for (const [name, [, , key]] of Object.entries(facts.looks)) keys[key] = () => face(name);
    const act = keys[event.key] || keys[event.key.toLowerCase()];
    if (!act || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    act();
  });
  new ResizeObserver(redraw).observe(canvas);
  place.listen(redraw);
  canvas.addEventListener("webglcontextlost", (event) => event.preventDefault());

  return { redraw, draw, face, project, pick, eye,
    refine,
    show(key, value) { shown[key] = value; redraw(); } };
};
