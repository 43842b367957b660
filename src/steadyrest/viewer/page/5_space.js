// The picture in space: part, path and tool, on the part or as the machine sees them. Without perspective, upright as the machine stands.
"use strict";

steadyrest.makeSpace = function (canvas, over, facts, columns, track, colours, place) {
  const gl = canvas.getContext("webgl2", { antialias: true, preserveDrawingBuffer: true });
  if (!gl) return null;
  const { shaders, program } = steadyrest;
  const pen = over.getContext("2d");
  const field = facts.field, fields = field ? [field, ...facts.sides] : [];
  const of = (name, f) => columns[f ? `${name}_${f}` : name]; // a column of one of them
  const shown = { part: true, cut: true, rapid: true, through: false, view: "part" };
  const axis = { X: 0, Y: 1, Z: 2 }[facts.axis];
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2], cross = ([a, b, c], [x, y, z]) => [b * z - c * y, c * x - a * z, a * y - b * x];

  // --- what there is to draw
  // A program for each field, with all that never changes of the fields written into it; while it moves on a slow machine, without all that
  // is for straight walls. Both are left out by the compiler, not passed over by every pixel.
  function partOf(fine) {
    const { begins } = surface, yetBegins = history ? history.begins : begins, numbers = (values) => values.map((value) => value.toExponential()).join(", ");
    const array = (type, name, each) => `const ${type} ${name}[FIELDS] = ${type}[FIELDS](${fields.map((one, f) => `${type}(${each(one, f)})`).join(", ")});`;
    const known = `const int FIELDS = ${fields.length};` + [
      array("bool", "uRadii", ({ chart }) => chart === "radii"),
      array("ivec2", "uCells", ({ n, m }) => [n, m]),
      array("ivec2", "uBegin", (_, f) => [begins[f], yetBegins[f]]),
      array("ivec4", "uYetAt", ({ history: told }) => (told ? [...told.rows, ...told.columns] : [0, 1, 0, 1])),
      array("vec4", "uGrid", ({ first, firstStep, second, secondStep }) => numbers([first, firstStep, second, secondStep])),
      array("float", "uStep", ({ step }) => numbers([step])),
      array("mat3", "uRows", ({ rows }) => numbers(rows)),
      array("vec3", "uFrom", ({ origin }) => numbers(origin)),
    ].join("\n");
    return fields.map((_, own) => {
      const others = fields.map((__, f) => (f === own ? "" : `if (outside(${f}, steep, chosen)) discard;`)).join(" ");
      const texts = [shaders.partVertex, shaders.partFragment].map((text) => `${shaders.common}${known} const int uField = ${own};${shaders.field}${text.replace("OTHERS", others)}`);
      return program(gl, ...texts.map((text) => (fine ? text : text.replace("uniform bool uFine;", "const bool uFine = false;"))));
    });
  }
  const laidProgram = field && program(gl, shaders.laidVertex, shaders.laidFragment);
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
  // The cells of all fields, one under another: each begins in a row of its own.
  function laid(kind, deep, of_, cells = ({ n, m }) => [n, m]) {
    const begins = [], wide = Math.max(...fields.map((each) => cells(each)[1]));
    let high = 0;
    for (const each of fields) { begins.push(high); high += cells(each)[0]; }
    const data = new kind(deep * wide * high);
    fields.forEach((each, f) => {
      const [n, m] = cells(each), part = of_(each, f);
      for (let i = 0; i < n; i++) data.set(part.subarray(deep * i * m, deep * (i + 1) * m), deep * wide * (begins[f] + i));
    });
    return { data, wide, high, begins };
  }
  // Which way each cell looks: outward, around (the second coordinate), along (the first), as bytes about 128; then what cut it last, 255
  // nothing. Beside a wall it looks as it does away from it.
  function lookOf({ n, m, step, firstStep, secondStep, chart }, f) {
    const radii = chart === "radii", outer = of("outer", f), last = of("last_cut", f);
    const rise = (before, here, behind, wide) => {
      const to = here - before, from = behind - here, wall = (steadyrest.WALL * wide) / step;
      return ((Math.abs(to) > wall && Math.abs(from) <= wall ? 2 * from : Math.abs(from) > wall && Math.abs(to) <= wall ? 2 * to : to + from) * step) / (2 * wide);
    };
    const out = new Uint8Array(4 * n * m);
    for (let i = 0; i < n; i++) {
      const up = Math.min(i + 1, n - 1), down = Math.max(i - 1, 0);
      for (let j = 0; j < m; j++) {
        const here = outer[i * m + j], at = 4 * (i * m + j);
        if (here === 0) { out[at + 3] = 255; continue; }
        const right = radii ? (j + 1 === m ? 0 : j + 1) : Math.min(j + 1, m - 1), left = radii ? (j === 0 ? m - 1 : j - 1) : Math.max(j - 1, 0);
        const slope = rise(outer[down * m + j], here, outer[up * m + j], firstStep);
        const turn = rise(outer[i * m + left], here, outer[i * m + right], secondStep * (radii ? here * step : 1));
        const size = 127 / Math.sqrt(1 + slope * slope + turn * turn);
        out[at] = 128 + size; out[at + 1] = 128.5 - turn * size; out[at + 2] = 128.5 - slope * size;
        out[at + 3] = colours.kindOf(last[i * m + j]);
      }
    }
    return out;
  }
  // Where walls stand between a cell and the next one, along and around, in so many parts of the way; 0: no wall.
  function wallsOf({ n, m }, f) {
    const out = new Uint8Array(2 * n * m);
    for (const [k, name] of ["first", "second"].entries()) (of(`wall_${name}_at`, f) || []).forEach((cell, at) => { out[2 * cell + k] = of(`wall_${name}`, f)[at]; });
    return out;
  }
  // What is not cut yet at a time of the program: the state of every so-manieth line, and of each the number of its last change, after which
  // it is as it will be at the end.
  const hatch = field && texture(gl.RED_INTEGER, gl.R8UI, gl.UNSIGNED_BYTE, colours.TILE, colours.hatches.length / colours.TILE, colours.hatches);
  const yetCells = ({ history }) => (history ? [history.n, history.m] : [0, 1]);
  const history = field && fields.some((each) => each.history) && (() => {
    const starts = fields.map((each, f) => new Uint16Array(2 * yetCells(each)[0] * yetCells(each)[1]));
    const parts = fields.flatMap(({ history: told }, f) => {
      if (!told) return [];
      const { n, m, coarser } = told, [before, line, at, to] = ["before", "changed_line", "changed_at", "changed_to"].map((name) => of(name, f));
      const lastOf = new Int32Array(n * m).fill(-1), kinds = new Uint8Array(line.length), start = starts[f];
      for (let k = 0, now = 0; k < line.length; k++) {
        lastOf[line[k]] = k;
        while (now < track.count - 1 && track.minutes[now] < at[k]) now++;
        kinds[k] = colours.kindOf(track.operation[now]);
      }
      for (let cell = 0; cell < n * m; cell++) if (lastOf[cell] >= 0) start[2 * cell] = coarser * before[cell];
      return [{ f, m, coarser, line, at, to, lastOf, kinds, done: 0 }];
    });
    const { data: state, wide, high, begins } = laid(Uint16Array, 2, (_, f) => starts[f], yetCells), start = state.slice();
    // The first change that is not done when the tool stands there; at the end none is left.
    function doneAt({ at }, place) {
      if (place >= track.count - 1) return at.length;
      const minutes = track.state(place).minutes;
      let low = 0, high = at.length;
      while (low < high) {
        const middle = (low + high) >> 1;
        if (at[middle] <= minutes) low = middle + 1; else high = middle;
      }
      return low;
    }
    const sum = (what) => parts.reduce((all, part) => all + what(part), 0);
    return {
      state, wide, high, begins, all: sum(({ line }) => line.length), get done() { return sum(({ done }) => done); },
      // Whether anything is different there.
      go(place) {
        const next = parts.map((part) => doneAt(part, place));
        if (next.every((each, k) => each === parts[k].done)) return false;
        if (next.some((each, k) => each < parts[k].done)) { state.set(start); for (const part of parts) part.done = 0; }
        parts.forEach((part, k) => {
          for (; part.done < next[k]; part.done++) {
            const { f, m, coarser, line, to, lastOf, kinds, done } = part, cell = line[done], left = lastOf[cell] > done;
            const texel = 2 * (wide * (begins[f] + Math.floor(cell / m)) + (cell % m));
            state[texel] = left ? coarser * to[done] : 0;
            state[texel + 1] = left ? kinds[done] : 0;
          }
        });
        return true;
      },
    };
  })();
  // A grid over the field, its ends closed; `rows` by `fine` cells.
  function gridOf({ chart, n, m }, mostRows, mostFine) {
    const rows = Math.min(n, mostRows), fine = Math.min(m, mostFine), radii = chart === "radii", high = rows + 5, wide = radii ? fine + 1 : fine + 3;
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
  const surface = field && (() => {
    const cells = laid(Uint16Array, 1, (_, f) => of("outer", f)), held = (format, inner, { data, wide, high }) => texture(format, inner, gl.UNSIGNED_BYTE, wide, high, data);
    return {
      begins: cells.begins,
      outer: texture(gl.RED_INTEGER, gl.R16UI, gl.UNSIGNED_SHORT, cells.wide, cells.high, cells.data),
      look: held(gl.RGBA_INTEGER, gl.RGBA8UI, laid(Uint8Array, 4, lookOf)),
      walls: held(gl.RG_INTEGER, gl.RG8UI, laid(Uint8Array, 2, wallsOf)),
      yet: texture(gl.RG_INTEGER, gl.RG16UI, gl.UNSIGNED_SHORT, history ? history.wide : 1, history ? history.high : 1, history ? history.state : new Uint16Array(2)),
      light: fields.map((each) => gridOf(each, 96, 120)),
      full: null,
    };
  })();

  const partPrograms = field && partOf(true);
  let quickPrograms = null;
  const makeQuick = () => { if (field && !quickPrograms) quickPrograms = partOf(false); };

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
  const ribbons = {}, FEW_WAYS = 1500;
  function ribbonOf(view, fine) {
    const level = fine ? 99 : Math.max(0, Math.floor(Math.log2(eye.zoom)));
    const key = `${view} ${level} ${moving}`, points = track[view];
    if (!ribbons[key]) {
      let apart = (0.006 * size) / 2 ** level, chosen = fine ? whole : sparse(points, apart);
      while (moving && chosen.length > FEW_WAYS && apart < size) chosen = sparse(points, (apart *= 2)); // at rest nothing of it is left out
      ribbons[key] = ribbon(points, chosen);
    }
    return ribbons[key];
  }

  // A solid of revolution from its outline of (radius, height), tip first: places and which way they look.
  function revolved(outline, round = 28) {
    const numbers = [];
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
    return numbers;
  }
  // What of a ring lies between two angles.
  function sector(r0, r1, z0, z1, a0, a1) {
    const numbers = [], steps = 6, at = (a) => [Math.cos(a), Math.sin(a)];
    const quad = (corners, normal) => { for (const k of [0, 1, 2, 2, 1, 3]) numbers.push(...corners[k], ...normal(corners[k])); };
    for (let s = 0; s < steps; s++) {
      const [p, q] = [at(a0 + ((a1 - a0) * s) / steps), at(a0 + ((a1 - a0) * (s + 1)) / steps)];
      const point = ([c, d], r, z) => [r * c, r * d, z], outward = ([x, y]) => { const r = Math.hypot(x, y); return [x / r, y / r, 0]; };
      for (const r of [r0, r1]) quad([point(p, r, z0), point(q, r, z0), point(p, r, z1), point(q, r, z1)], outward);
      for (const z of [z0, z1]) quad([point(p, r0, z), point(q, r0, z), point(p, r1, z), point(q, r1, z)], () => [0, 0, 1]);
    }
    for (const a of [a0, a1]) {
      const [c, d] = at(a), point = (r, z) => [r * c, r * d, z];
      quad([point(r0, z0), point(r1, z0), point(r0, z1), point(r1, z1)], () => [-d, c, 0]);
    }
    return numbers;
  }
  function solid(numbers) {
    const array = gl.createVertexArray();
    gl.bindVertexArray(array);
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, new Float32Array(numbers), gl.STATIC_DRAW);
    gl.enableVertexAttribArray(0); gl.vertexAttribPointer(0, 3, gl.FLOAT, false, 24, 0);
    gl.enableVertexAttribArray(1); gl.vertexAttribPointer(1, 3, gl.FLOAT, false, 24, 12);
    gl.bindVertexArray(null);
    return { array, count: numbers.length / 6 };
  }
  const tools = {};
  for (const [number, tool] of Object.entries(facts.tools)) tools[number] = solid(revolved(tool.outline));
  // The chuck about the axis of rotation, which is its own third axis; its sizes are nobody's, so it is plain.
  const chuck = facts.chuck && (() => {
    const { body: [back, end], radii: [inner, outer], tip, jaws, halfJaw } = facts.chuck, numbers = revolved([[0, back], [outer, back], [outer, end], [0, end]], 48);
    for (let jaw = 0; jaw < jaws; jaw++) {
      const middle = (2 * Math.PI * jaw) / jaws + Math.PI / 2;
      numbers.push(...sector(inner, outer, Math.min(end, tip), Math.max(end, tip), middle - halfJaw, middle + halfJaw));
    }
    return solid(numbers);
  })();

  // --- the eye
  const eye = { azimuth: facts.stand[0], elevation: facts.stand[1], zoom: 1, pan: [0, 0], target: [0, 0, 0], reach: 1 };
  // What a view shows at first: the part as it stands, or all places to which the rotaries bring it.
  const boxes = { part: facts.box, machine: facts.box };
  if (facts.chain) {
    const ends = [facts.box.low, facts.box.high], places = [];
    for (let k = 0; k < track.count; k += Math.ceil(track.count / 400)) {
      const degrees = track.words.map((column) => column[k]);
      for (let corner = 0; corner < 8; corner++) places.push(track.toMachine([0, 1, 2].map((n) => ends[(corner >> n) & 1][n]), degrees));
    }
    const over = (which) => [0, 1, 2].map((n) => which(...places.map((place) => place[n])));
    boxes.machine = { low: over(Math.min), high: over(Math.max) };
  }
  function frame() {
    const { low, high } = boxes[shown.view];
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
  // The table lies below for whoever stands there: under the chuck where the axis of rotation is upright, else below everything that turns.
  // How far below nobody says. On a chain it is what the part stands on, and turns with it.
  const upwards = facts.person[2], upright = Math.abs(upwards[axis]) > 0.5, carrying = facts.lines.find((one) => one.part);
  const stands = (way) => Math.abs(dot(way, upwards)) > 0.9, lies = !facts.chain || !carrying || stands(carrying.positive);
  const table = (facts.chuck || upright) && lies && (() => {
    const wide = facts.person[0], deep = facts.person[1], low = facts.centre.slice();
    const drop = upright ? (facts.chuck ? facts.chuck.body[0] : facts.box.low[axis]) : -1.12 * (facts.chuck ? facts.chuck.radii[1] : facts.swept);
    const middle = [0, 1, 2].map((k) => (facts.box.low[k] + facts.box.high[k]) / 2);
    const at = [0, 1, 2].map((k) => (Math.abs(upwards[k]) > 0.5 ? (upright ? drop : low[k] + upwards[k] * drop) : k === axis ? middle[k] : low[k]));
    const half = (way) => facts.chain ? 0.6 * Math.abs(dot(way, facts.box.high) - dot(way, facts.box.low)) : 1.12 * Math.max(1.6 * facts.swept, Math.abs(way[axis]) > 0.5 ? (facts.box.high[axis] - facts.box.low[axis]) / 2 : 0);
    const corner = (a, b) => at.map((value, k) => value + a * half(wide) * wide[k] + b * half(deep) * deep[k]);
    const corners = [corner(-1, -1), corner(1, -1), corner(-1, 1), corner(1, 1)];
    return { ...solid([0, 1, 2, 2, 1, 3].flatMap((k) => [...corners[k], ...upwards])), corners };
  })();
  // Pixels (CSS) per length unit: the box as seen from here fills the picture.
  function pixels() {
    const half = basis().map((row) => Math.max(1e-9, row.reduce((sum, value, k) => sum + Math.abs(value) * eye.box[k], 0)));
    return 0.86 * eye.zoom * Math.min(canvas.clientWidth / 2 / half[0], canvas.clientHeight / 2 / half[1]);
  }
  function project(point) {
    const scale = pixels(), d = point.map((value, k) => value - eye.target[k]);
    const [x, y, z] = basis().map((row) => row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
    return [canvas.clientWidth / 2 + eye.pan[0] + scale * x, canvas.clientHeight / 2 + eye.pan[1] - scale * y, z];
  }

  // --- drawing: in full where the machine is quick enough, else a light grid on few pixels while things move, and in full when they rest
  const EVEN = 50, PATIENCE = 1500; // milliseconds: what still looks even, and what somebody may have to wait for a picture at rest
  let waiting = false, drawn = 0, full = false, moving = false, slow = true, hopeless = true, rest = 0;
  function redraw() {
    clearTimeout(rest);
    if (slow) full = false;
    moving = slow;
    if (slow) rest = setTimeout(() => { moving = false; if (!canvas.hidden && !document.hidden) (hopeless ? draw : drawFull)(); }, 350);
    if (waiting || canvas.hidden) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; if (!canvas.hidden) draw(); });
  }
  function drawFull() {
    if (surface) surface.full = surface.full || fields.map((each) => gridOf(each, 448, 384));
    full = true;
    moving = false;
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
    moving = false;
    await timed(draw); // what waits to be drawn is not counted
    hopeless = 10 * (await timed(draw)) > PATIENCE;
    if (hopeless) makeQuick(); // before somebody plays
    if (hopeless || canvas.hidden) return;
    slow = (await timed(drawFull)) > EVEN;
    if (slow) makeQuick();
  }
  function common(at) {
    const rows = basis(), scale = pixels();
    const moved = eye.target.map((value, k) => value - (rows[0][k] * eye.pan[0] - rows[1][k] * eye.pan[1]) / scale);
    gl.uniformMatrix3fv(at.uEye, false, [0, 1, 2].flatMap((column) => rows.map((row) => row[column])));
    gl.uniform3fv(at.uTarget, moved);
    gl.uniform2f(at.uScale, (2 * scale) / canvas.clientWidth, (2 * scale) / canvas.clientHeight);
    gl.uniform1f(at.uDepth, 1 / (12 * eye.reach));
    gl.uniformMatrix3fv(at.uTurn, false, [0, 1, 2].flatMap((k) => carried.way([0, 1, 2].map((n) => (n === k ? 1 : 0)))));
    gl.uniform3fv(at.uShift, carried.place([0, 0, 0]));
  }
  // From the part to where the view shows what it carries, at the place that is shown: of a place, and of a direction.
  const carried = {
    place: (point) => (shown.view === "machine" ? track.toMachine(point.slice(), place.state.words) : point),
    way(direction) { const from = carried.place([0, 0, 0]); return carried.place(direction).map((value, k) => value - from[k]); },
  };
  const unit = (text) => colours.parse(text).map((value) => value / 255);
  const palette = colours.kinds.flatMap(unit);

  // A solid where it stands: its own origin, first and third axis; red, green, blue and how much it hides.
  function solidAt(one, origin, first, third, colour) {
    const { program: used, at } = toolProgram;
    gl.useProgram(used);
    common(at);
    gl.uniform3fv(at.uTip, origin);
    gl.uniform3fv(at.uToolX, first);
    gl.uniform3fv(at.uToolZ, third);
    gl.uniform4fv(at.uTool, colour);
    gl.bindVertexArray(one.array);
    gl.drawArrays(gl.TRIANGLES, 0, one.count);
  }

  // While things move on a slow machine the part is drawn on so many pixels at most, without smooth edges, only what faces the eye.
  const FEW = 40_000;
  let small = null;
  function smaller(wide, high) {
    const share = Math.min(1, Math.sqrt(FEW / (wide * high))), w = Math.ceil(share * wide), h = Math.ceil(share * high);
    if (small && small.wide === w && small.high === h) return small;
    if (small) { gl.deleteTexture(small.colour); gl.deleteTexture(small.far); gl.deleteFramebuffer(small.frame); }
    const colour = texture(gl.RGBA, gl.RGBA8, gl.UNSIGNED_BYTE, w, h, null);
    for (const key of [gl.TEXTURE_MIN_FILTER, gl.TEXTURE_MAG_FILTER]) gl.texParameteri(gl.TEXTURE_2D, key, gl.LINEAR);
    const far = texture(gl.DEPTH_COMPONENT, gl.DEPTH_COMPONENT24, gl.UNSIGNED_INT, w, h, null), frame = gl.createFramebuffer();
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, colour, 0);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.TEXTURE_2D, far, 0);
    small = { wide: w, high: h, colour, far, frame };
    return small;
  }
  const bare = gl.createVertexArray();
  function drawSmaller(wide, high, density) {
    const at = smaller(wide, high), { program: used, at: names } = laidProgram;
    gl.bindFramebuffer(gl.FRAMEBUFFER, at.frame);
    gl.viewport(0, 0, at.wide, at.high);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.CULL_FACE);
    drawPart((wide / at.wide) / density);
    gl.disable(gl.CULL_FACE);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, wide, high);
    gl.useProgram(used);
    gl.activeTexture(gl.TEXTURE0); gl.bindTexture(gl.TEXTURE_2D, at.colour); gl.uniform1i(names.uColour, 0);
    gl.activeTexture(gl.TEXTURE1); gl.bindTexture(gl.TEXTURE_2D, at.far); gl.uniform1i(names.uFar, 1);
    gl.activeTexture(gl.TEXTURE0);
    gl.uniform2f(names.uSize, wide, high);
    gl.bindVertexArray(bare);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }
  // `pixel`: how wide what is drawn as one is on the screen, in pixels (CSS).
  function drawPart(pixel) {
    const meshes = full && surface.full ? surface.full : surface.light, early = history && history.done < history.all;
    if (moving) makeQuick();
    [surface.outer, surface.look, surface.yet, hatch, surface.walls].forEach((held, unit) => { gl.activeTexture(gl.TEXTURE0 + unit); gl.bindTexture(gl.TEXTURE_2D, held); });
    gl.activeTexture(gl.TEXTURE0);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(1, 2);
    fields.forEach(({ n, m, chart }, f) => {
      const { program: used, at } = (moving ? quickPrograms : partPrograms)[f], mesh = meshes[f];
      gl.useProgram(used);
      common(at);
      ["uOuter", "uLook", "uYet", "uHatch", "uWalls"].forEach((name, unit) => gl.uniform1i(at[name], unit));
      gl.uniform1f(at.uParts, field.parts);
      gl.uniform1f(at.uPixel, pixel);
      gl.uniform2iv(at.uYetCells, fields.flatMap((each) => (early && each.history ? yetCells(each) : [0, 0])));
      gl.uniform1i(at.uSpan, Math.ceil(Math.max(n / mesh.rows, chart === "radii" ? 1 : m / mesh.fine)));
      if (!moving) gl.uniform1i(at.uFine, 1);
      gl.uniform2i(at.uMesh, mesh.rows, mesh.fine);
      gl.uniform3fv(at.uPalette, palette);
      gl.cullFace(chart === "radii" ? gl.FRONT : gl.BACK); // while it moves; the grid's triangles go round the other way there
      gl.bindVertexArray(mesh.array);
      gl.drawElements(gl.TRIANGLES, mesh.count, gl.UNSIGNED_INT, 0);
    });
    gl.disable(gl.POLYGON_OFFSET_FILL);
  }

  // A direction square to a tool axis, and the axis: it is round, so that any will do.
  function leaning([i, j, k]) {
    const square = Math.abs(i) < 0.9 ? [0, k, -j] : [-k, 0, i], long = Math.hypot(...square);
    return [square.map((value) => value / long), [i, j, k]];
  }

  function draw() {
    const density = Math.min(window.devicePixelRatio || 1, 2);
    const wide = Math.max(1, Math.round(canvas.clientWidth * density)), high = Math.max(1, Math.round(canvas.clientHeight * density));
    if (canvas.width !== wide || canvas.height !== high) { canvas.width = over.width = wide; canvas.height = over.height = high; }
    const theme = colours.themed(), state = place.state, machine = shown.view === "machine";
    gl.viewport(0, 0, wide, high);
    gl.clearColor(...unit(theme.stage), 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.disable(gl.BLEND);
    const along = [0, 0, 0], across = [0, 0, 0], foot = facts.centre.slice();
    along[axis] = across[(axis + 1) % 3] = 1; foot[axis] = 0;
    if (chuck) solidAt(chuck, carried.place(foot), carried.way(across), carried.way(along), [...unit(theme.soft), 1]);
    const under = facts.chain ? carried : { place: (point) => point, way: (direction) => direction };
    if (machine && table && dot(under.way(upwards), basis()[2]) < 0) solidAt(table, under.place([0, 0, 0]), under.way([1, 0, 0]), under.way([0, 0, 1]), [...unit(theme.line), 1]);
    if (surface && shown.part) {
      if (history && history.go(place.place)) {
        gl.bindTexture(gl.TEXTURE_2D, surface.yet);
        gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, history.wide, history.high, gl.RG_INTEGER, gl.UNSIGNED_SHORT, history.state);
      }
      if (moving) drawSmaller(wide, high, density); else drawPart(1 / density);
    }
    if (track.count > 1 && (shown.cut || shown.rapid)) {
      const { program: used, at } = pathProgram;
      gl.useProgram(used);
      common(at);
      gl.uniform2f(at.uView, wide, high);
      gl.uniform1f(at.uWide, 1.15 * density);
      gl.uniform1f(at.uNow, place.place + 1e-6);
      gl.uniform2f(at.uLit, ...track.stretchOf(state.operation));
      const lit = facts.foundAt(state.line);
      gl.uniform2f(at.uFound, ...(lit ? lit.way : [-1, -1]));
      gl.uniform3fv(at.uBad, unit(theme.bad));
      gl.uniform1f(at.uNear, 0.02 * facts.swept / (12 * eye.reach));
      gl.uniform1i(at.uShowCut, shown.cut ? 1 : 0);
      gl.uniform1i(at.uShowRapid, shown.rapid ? 1 : 0);
      gl.uniform3fv(at.uPalette, palette);
      gl.uniform3fv(at.uInk, unit(theme.ink));
      gl.uniform3fv(at.uRapid, unit(theme.soft));
      if (shown.through) gl.disable(gl.DEPTH_TEST);
      const drawnRibbon = ribbonOf(shown.view, full);
      gl.bindVertexArray(drawnRibbon.array);
      gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, drawnRibbon.count);
      gl.enable(gl.DEPTH_TEST);
    }
    const tool = tools[state.tool];
    if (tool) {
      gl.enable(gl.BLEND);
      gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
      solidAt(tool, state[shown.view], ...leaning(state.axis[shown.view]), [...unit(theme.soft), 0.72]);
      gl.disable(gl.BLEND);
    }
    gl.bindVertexArray(null);
    drawOver(density, theme, state);
    drawn += 1;
    canvas.dataset.drawn = String(drawn);
  }

  // Words and lines over the picture, legible on whatever is below.
  function lineOver(points, theme, wide = 1.6, dash = []) {
    const ends = points.map((point) => project(point).slice(0, 2));
    for (const [colour, more] of [[theme.stage, 2.4], [theme.ink, 0]]) {
      pen.strokeStyle = colour;
      pen.lineWidth = wide + more;
      pen.setLineDash(more ? [] : dash);
      pen.beginPath();
      ends.forEach((end, k) => (k ? pen.lineTo(...end) : pen.moveTo(...end)));
      pen.stroke();
    }
    pen.setLineDash([]);
    return ends;
  }
  function wordsOver(words, x, y, theme, align = "center") {
    pen.font = "600 13px system-ui, sans-serif";
    pen.textAlign = align; pen.textBaseline = "middle";
    pen.lineWidth = 4; pen.lineJoin = "round";
    pen.strokeStyle = theme.stage; pen.fillStyle = theme.ink;
    const wide = pen.measureText(words).width, inside = Math.max(align === "left" ? 4 : 4 + wide / 2, Math.min(x, canvas.clientWidth - 4 - (align === "left" ? wide : wide / 2)));
    pen.strokeText(words, inside, y); pen.fillText(words, inside, y);
  }
  // The axes of the rotaries as they stand, near the part, and which way a positive command turns what each carries.
  function drawLines(theme) {
    const { low, high } = facts.box, wide = Math.max(...low.map((value, k) => high[k] - value)), over_ = 0.12 * (high[axis] - low[axis]);
    facts.lines.forEach(({ word, part, positive }, at) => {
      const reach = 0.62 * low.reduce((sum, value, k) => sum + Math.abs(positive[k]) * (high[k] - value), 0);
      const seen = (point) => (shown.view === "machine" ? point : track.toPart(point, place.state.words));
      const [from, about] = track.lineNow(at, place.state), upper = about.reduce((most, value) => (Math.abs(value) > Math.abs(most) + 1e-6 ? value : most)) < 0 ? -1 : 1;
      const on = (far) => seen(from.map((value, k) => value + far * upper * about[k]));
      const near = part ? track.toMachine(low.map((value, k) => (value + high[k]) / 2), place.state.words) : place.state.machine;
      const foot = upper * dot(about, near.map((value, k) => value - from[k]));
      // With one rotary its arrow goes round the chuck, else round the + end of the axis, of an upright table under it.
      const ends = facts.chain ? [foot - reach, foot + reach] : [low[axis] - over_ - from[axis], high[axis] + over_ - from[axis]];
      const where = on(facts.chain ? ends[part && stands(about) ? 0 : 1] : (facts.chuck ? (facts.chuck.body[0] + facts.chuck.body[1]) / 2 : low[axis]) - from[axis]);
      const radius = facts.chain ? 0.12 * wide : 1.12 * (facts.chuck ? facts.chuck.radii[1] : facts.swept);
      lineOver(ends.map(on), theme, 1.2, [14, 4, 3, 4]);
      // The middle of the arrow is on the upper side, of a head on the side of the nose; of an upright axis on the near one.
      const top = stands(about) ? facts.person[1].map((value) => -value) : upwards.map((value) => (part ? value : -value));
      const square = top.map((value, k) => value - dot(top, about) * about[k]), long = Math.hypot(...square), v = square.map((value) => value / long), u = cross(v, about);
      const [origin, one, two] = [[0, 0, 0], u, v].map((each) => seen(each.slice()));
      const beside = (far, angle) => where.map((value, k) => value + far * (Math.cos(angle) * (one[k] - origin[k]) + Math.sin(angle) * (two[k] - origin[k])));
      const tips = lineOver(Array.from({ length: 25 }, (_, k) => beside(radius, Math.PI / 2 - 0.9 + (1.8 * k) / 24)), theme, 2.4), [tx, ty] = tips[24], [bx, by] = tips[21], turn = Math.atan2(ty - by, tx - bx);
      pen.fillStyle = theme.ink;
      pen.beginPath(); pen.moveTo(tx + 7 * Math.cos(turn), ty + 7 * Math.sin(turn));
      for (const side of [2.5, -2.5]) pen.lineTo(tx + 7 * Math.cos(turn + side), ty + 7 * Math.sin(turn + side));
      pen.fill();
      const [mx, my] = project(beside((facts.chain ? 1.6 : 1.24) * radius, Math.PI / 2)), beyond = my < 0 ? " ↑" : my > canvas.clientHeight ? " ↓" : "";
      wordsOver(`+${word}${beyond}`, mx, Math.max(14, Math.min(my, canvas.clientHeight - 14)), theme); // where the picture does not reach, at its edge
    });
  }
  // The axes of rotation and program zero.
  function drawFixed(theme) {
    drawLines(theme);
    const [x, y] = project([0, 0, 0]);
    pen.fillStyle = theme.stage;
    pen.beginPath(); pen.arc(x, y, 7, 0, 7); pen.fill();
    pen.fillStyle = pen.strokeStyle = theme.ink;
    for (const quarter of [0, Math.PI]) { pen.beginPath(); pen.moveTo(x, y); pen.arc(x, y, 7, quarter, quarter + Math.PI / 2); pen.fill(); }
    pen.lineWidth = 1.4;
    pen.beginPath(); pen.arc(x, y, 7, 0, 7); pen.stroke();
    wordsOver("program zero", x, y + 16, theme);
  }
  // A length that is a round number, some fifth of the picture wide.
  function drawScale(theme) {
    const want = (0.2 * canvas.clientWidth) / pixels(), ten = 10 ** Math.floor(Math.log10(want));
    const long = [5, 2, 1].find((each) => each * ten <= want) * ten, wide = long * pixels(), x = 96, y = canvas.clientHeight - 22;
    pen.strokeStyle = theme.ink;
    pen.lineWidth = 2;
    pen.beginPath(); pen.moveTo(x, y - 5); pen.lineTo(x, y); pen.lineTo(x + wide, y); pen.lineTo(x + wide, y - 5); pen.stroke();
    wordsOver(`${Number(long.toPrecision(3))} ${facts.units}`, x + wide / 2, y - 12, theme);
    canvas.dataset.scale = `${Number(long.toPrecision(3))} ${facts.units}`;
  }
  // Findings where the program stands in the line that they name: a diamond with the number that they have on the page.
  function drawFindings(theme) {
    for (const { number, place: at, line, sign } of facts.marked) {
      const stand = track.state(at), [x, y] = project(stand[shown.view]), size = line === place.state.line ? 13 : 9;
      steadyrest.mark(pen, x, y, size, number, theme, sign);
    }
  }

  // Directions of the axes that the machine has, and a ring round the tip that no part hides.
  function drawOver(density, theme, state) {
    pen.setTransform(density, 0, 0, density, 0, 0);
    pen.clearRect(0, 0, over.width, over.height);
    drawFixed(theme);
    drawFindings(theme);
    const [x, y] = project(state[shown.view]);
    pen.lineWidth = 2.5;
    pen.strokeStyle = theme.ink;
    pen.beginPath(); pen.arc(x, y, 8, 0, 7); pen.stroke();
    pen.strokeStyle = theme.card;
    pen.lineWidth = 1.2;
    pen.beginPath(); pen.arc(x, y, 6, 0, 7); pen.stroke();
    wordsOver(String(state.operation), x + 18, y - 12, theme);
    drawScale(theme);
    const corner = [46, canvas.clientHeight - (canvas.clientWidth < 480 ? 116 : 50)], rows = basis(); // over the buttons where it is narrow
    pen.font = "600 15px system-ui, sans-serif";
    pen.textAlign = "center"; pen.textBaseline = "middle";
    facts.axes.forEach((name, k) => { // none where its drive turns the rotary: the machine has no such axis
      const dx = rows[0][k] * 30, dy = -rows[1][k] * 30;
      pen.strokeStyle = pen.fillStyle = theme.ink;
      pen.lineWidth = 2;
      pen.beginPath(); pen.moveTo(...corner); pen.lineTo(corner[0] + dx, corner[1] + dy); pen.stroke();
      if (Math.hypot(dx, dy) > 6) pen.fillText(name, corner[0] + dx * 1.35, corner[1] + dy * 1.35);
    });
  }

  // --- finding the path under a finger: the nearest stretch that is not behind the part as far as can be told by its depth
  function pick(px, py) {
    const points = track[shown.view];
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

  return { redraw, draw() { moving = false; draw(); }, face, project, pick, eye, history,
    refine, drawFull,
    show(key, value) { shown[key] = value; if (facts.chain && key === "view") frame(); redraw(); } };
};
