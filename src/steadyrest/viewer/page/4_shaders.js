// What the graphics card does: the part from its field of radii or heights, the path as ribbons of even width, the tool.
"use strict";

// Where nobody knows of a wall, one rises from a cell to the next by so many times as much as they lie apart.
steadyrest.WALL = 2.5;

steadyrest.shaders = {
  // Turns what the part carries as the view has it (uTurn, then uShift) and projects, evenly scaled, without perspective.
  common: `#version 300 es
    precision highp float; precision highp int; precision highp usampler2D;
    uniform mat3 uEye; uniform vec3 uTarget; uniform vec2 uScale; uniform float uDepth;
    uniform mat3 uTurn; uniform vec3 uShift;
    vec4 seen(vec3 p) {
      vec3 e = uEye * (p - uTarget);
      return vec4(e.x * uScale.x, e.y * uScale.y, e.z * uDepth, 1.0);
    }`,

  // The part is what lies within all its fields: of each the cells are texels, one field over another, with which way each looks (outward,
  // around, along: see lookOf) and what cut it; the mesh is coarser. What of it is not cut yet stands in coarser fields: its outermost
  // material and what cut that, 0 where all is as it will be at the end. All that begins with 'u' and is not said here is written in before: see
  // partOf in 5_space.js.
  field: `
    uniform usampler2D uOuter; uniform usampler2D uLook; uniform usampler2D uYet; uniform usampler2D uWalls; uniform float uParts;
    uniform ivec2 uYetCells[FIELDS];
    ivec2 texel(int f, int i, int j) { return ivec2(j, uBegin[f].x + clamp(i, 0, uCells[f].x - 1)); }
    int column(int f, int j) { return uRadii[f] ? (j % uCells[f].y + uCells[f].y) % uCells[f].y : clamp(j, 0, uCells[f].y - 1); }
    uvec2 yet(int f, int i, int j) {
      if (uYetCells[f].x == 0) return uvec2(0u);
      int a = clamp((clamp(i, 0, uCells[f].x - 1) - uYetAt[f].x + uYetAt[f].y / 2) / uYetAt[f].y, 0, uYetCells[f].x - 1);
      int b = (column(f, j) - uYetAt[f].z + uYetAt[f].w / 2) / uYetAt[f].w;
      return texelFetch(uYet, ivec2(uRadii[f] ? b % uYetCells[f].y : clamp(b, 0, uYetCells[f].y - 1), uBegin[f].y + a), 0).rg;
    }
    float outer(int f, int i, int j) {
      uint end = texelFetch(uOuter, texel(f, i, column(f, j)), 0).r;
      return float(max(end, yet(f, i, j).r)) * uStep[f];
    }
    // How far apart cells are here, along and around.
    vec2 apart(int f, float r) { return vec2(uGrid[f].y, uRadii[f] ? uGrid[f].w * max(r, 1e-6) : uGrid[f].w); }
    vec3 outward(int f, float a) { return uRadii[f] ? cos(a) * uRows[f][1] + sin(a) * uRows[f][2] : uRows[f][2]; }
    vec3 around(int f, float a) { return uRadii[f] ? cos(a) * uRows[f][2] - sin(a) * uRows[f][1] : uRows[f][1]; }
    // Where on the field a cell begins to count: the middle of the first is at 0.
    vec2 places(int f, vec2 cell) { return vec2(uGrid[f].x + cell.x * uGrid[f].y, uGrid[f].z + cell.y * uGrid[f].w); }`,

  partVertex: `
    uniform ivec2 uMesh; uniform bool uFine;
    out vec2 vCell; out vec3 vEye; out vec3 vPlace; out float vOuter; flat out int vEnd;
    // Where between a cell and the next one a wall stands, if there is one: half way where nobody knows more; 0: there is none.
    float stands(ivec2 at, ivec2 way, float rise, float wide) {
      uvec2 there = texelFetch(uWalls, texel(uField, at.x, column(uField, at.y)), 0).rg;
      uint part = way.x == 1 ? there.r : there.g;
      return part == 0u ? (abs(rise) > wide ? 0.5 : 0.0) : (float(part) - 0.5) / uParts;
    }
    // Walls stand between two cells, not between two vertices: how far it is to the nearest one, in cells, no further than the next vertex.
    // Both of its vertices are moved there, one on either side, so that it is upright and stands where the cutters left it.
    float wall(ivec2 at, ivec2 way, int most, float wide) {
      float before = outer(uField, at.x, at.y), behind = before;
      for (int d = 1; d <= most; d++) {
        float next = outer(uField, at.x + d * way.x, at.y + d * way.y), last = outer(uField, at.x - d * way.x, at.y - d * way.y);
        float on = stands(at + (d - 1) * way, way, next - before, wide), back = 1.0 - stands(at - d * way, way, behind - last, wide);
        if (on > 0.0 && (back >= 1.0 || on < back)) return float(d - 1) + on;
        if (back < 1.0) return -float(d - 1) - back;
        before = next;
        behind = last;
      }
      return 0.0;
    }
    vec2 toWall(ivec2 at, float r, bvec2 may) {
      vec2 wide = ${steadyrest.WALL.toFixed(1)} * apart(uField, r), mesh = vec2(uCells[uField]) / vec2(uMesh);
      float i = may.x ? wall(at, ivec2(1, 0), int(ceil(mesh.x)), wide.x) : 0.0, j = may.y ? wall(at, ivec2(0, 1), int(ceil(mesh.y)), wide.y) : 0.0;
      if (i != 0.0 && (j == 0.0 || abs(i) / mesh.x <= abs(j) / mesh.y)) return vec2(i, 0.0);
      return vec2(0.0, j);
    }
    // The cell of a vertex of the mesh.
    ivec2 cellAt(int row, int column) {
      int i = int(float(clamp(row, 0, uMesh.x)) / float(uMesh.x) * float(uCells[uField].x));
      int j = int(float(uRadii[uField] ? column : clamp(column, 0, uMesh.y)) / float(uMesh.y) * float(uCells[uField].y));
      return ivec2(min(i, uCells[uField].x - 1), uRadii[uField] ? j : min(j, uCells[uField].y - 1));
    }
    void main() {
      bool radii = uRadii[uField];
      int wide = radii ? uMesh.y + 1 : uMesh.y + 3;
      int row = gl_VertexID / wide, column = gl_VertexID % wide, last = uMesh.x;
      float i = row - 2 <= 0 ? 0.0 : float(uCells[uField].x), j = column - 1 <= 0 ? 0.0 : float(uCells[uField].y);
      bool edge = !radii && (column <= 1 || column >= uMesh.y + 1);
      vEnd = row <= 1 || row >= last + 3 || edge ? 1 : 0;
      bool nothing = row == 0 || row == last + 4 || (!radii && (column == 0 || column == uMesh.y + 2));
      ivec2 cell = cellAt(row - 2, radii ? column : column - 1);
      float r = nothing ? 0.0 : outer(uField, cell.x, cell.y);
      // A vertex stands in the middle of its cell, those at the ends of the field at its edge.
      bvec2 inner = bvec2(row > 2 && row < last + 2, radii || (column > 1 && column < uMesh.y + 1));
      if (inner.x) i = float(cell.x) + 0.5;
      if (inner.y) j = float(cell.y) + 0.5;
      if (uFine && !nothing) {
        vec2 moved = toWall(cell, r, inner);
        // Triangles reach over one corner of each four: what has a wall only that way goes to the same place as what is there.
        for (int way = -1; way <= 1 && all(inner) && moved == vec2(0.0); way += 2) {
          ivec2 other = cellAt(row - 2 + way, (radii ? column : column - 1) - way);
          float there = outer(uField, other.x, other.y);
          if (abs(there - r) < 0.4 * ${steadyrest.WALL.toFixed(1)} * max(apart(uField, r).x, apart(uField, r).y)) continue;
          moved = toWall(other, there, inner);
          if (moved != vec2(0.0)) moved += vec2(other - cell);
        }
        i += moved.x;
        j += moved.y;
      }
      vCell = vec2(i, j);
      vOuter = r;
      vec2 at = places(uField, vec2(i, j) - 0.5);
      vPlace = uFrom[uField] + at.x * uRows[uField][0] + r * outward(uField, at.y);
      if (!radii) vPlace += at.y * uRows[uField][1];
      vec3 p = uTurn * vPlace + uShift;
      vEye = uEye * (p - uTarget);
      gl_Position = seen(p);
    }`,

  partFragment: `
    uniform vec3 uPalette[9]; uniform int uSpan; uniform usampler2D uHatch; uniform float uPixel;
    uniform bool uFine;
    in vec2 vCell; in vec3 vEye; in vec3 vPlace; in float vOuter; flat in int vEnd; out vec4 colour;
    uvec4 look(int f, int i, int j) { return texelFetch(uLook, texel(f, i, column(f, j)), 0); }
    // The cell that is seen: the nearest one; beside a wall, which stands anywhere between cells, the one of the four around as high as the
    // surface is here; on the wall the lowest, for the cutter that made it went there.
    ivec2 shown() {
      ivec2 here = ivec2(floor(vCell)), lowest = here;
      if (!uFine || vEnd != 0) return here;
      vec2 apart_ = apart(uField, vOuter);
      float close = 0.6 * min(apart_.x, apart_.y), least = abs(outer(uField, here.x, here.y) - vOuter), low = 1e9;
      if (least <= close) return here;
      ivec2 corner = ivec2(floor(vCell - 0.5));
      for (int k = 0; k < 4; k++) {
        ivec2 at = corner + ivec2(k & 1, k >> 1);
        float r = outer(uField, at.x, at.y), off = abs(r - vOuter);
        if (off < least) { least = off; here = at; }
        if (r > 0.0 && r < low) { low = r; lowest = at; }
      }
      return least <= close || low == 1e9 ? here : lowest;
    }
    // Whether the place lies outside of what another field shows, by the highest of the four cells around it. Where that field's surface
    // goes through the place, evenly, and steep says that the own one stands on end here, its cell is shown in place of the own one.
    bool outside(int f, bool steep, inout ivec3 chosen) {
      vec3 q = (vPlace - uFrom[f]) * uRows[f];
      float r = uRadii[f] ? length(q.yz) : q.z;
      vec2 cell = vec2((q.x - uGrid[f].x) / uGrid[f].y, ((uRadii[f] ? atan(q.z, q.y) : q.y) - uGrid[f].z) / uGrid[f].w);
      vec2 span = uYetCells[f].x > 0 ? vec2(uYetAt[f].yw) : vec2(1.0), wide = apart(f, r) * span;
      float low = 1e9, high = 0.0, close = max(wide.x, wide.y);
      ivec2 here = ivec2(floor(cell + 0.5));
      if (all(greaterThanEqual(here, ivec2(0))) && all(lessThan(here, uCells[f])) && r < outer(f, here.x, here.y) - 3.0 * close) return false;
      for (int k = 0; k < 4; k++) {
        ivec2 at = ivec2(floor(cell + (vec2(k & 1, k >> 1) - 0.5) * span + 0.5));
        bool there = at.x >= 0 && at.x < uCells[f].x && (uRadii[f] || (at.y >= 0 && at.y < uCells[f].y));
        float end = there ? outer(f, at.x, at.y) : 0.0;
        low = min(low, end);
        high = max(high, end);
      }
      if (r > high + 0.5 * close) return true;
      if (steep && r > low - 0.5 * close && high - low < 2.0 * close) chosen = ivec3(f, here);
      return false;
    }
    void main() {
      ivec3 chosen = ivec3(uField, shown());
      // On walls, where the mesh stands and the cells lie, the mesh says how the light falls.
      vec3 flat_ = normalize(cross(dFdx(vEye), dFdy(vEye)));
      bool stands = abs(dot(flat_, uEye * uTurn * outward(uField, places(uField, vCell - 0.5).y))) < (uRadii[uField] ? 0.3 : 0.6);
      bool steep = stands || vEnd != 0;
      OTHERS
      int f = chosen.x, i = chosen.y, j = column(f, chosen.z);
      bool own = f == uField, end = own && vEnd != 0;
      uvec4 cell = look(f, i, j);
      uvec2 now = yet(f, i, j);
      bool early = now.r > 0u, there = early || cell.a < 255u, wall = !there;
      // A wall between something and nothing is as wide as the mesh; the colour is that of the nearest cell that is there.
      for (int d = 1; d <= uSpan && !there; d++) {
        for (int k = 0; k < 8 && !there; k++) {
          ivec2 at = ivec2(i, j) + d * ivec2(k < 3 ? -1 : k < 5 ? 0 : 1, k == 0 || k == 3 || k == 5 ? -1 : k == 1 || k == 6 ? 0 : 1);
          cell = look(f, at.x, at.y);
          there = cell.a < 255u;
        }
      }
      if (!there) discard;
      vec3 normal = (vec3(cell.xyz) - 128.0) / 127.0;
      if (early) { // the coarser field says how it rises around here
        int up = uYetAt[f].y, round_ = uYetAt[f].w;
        float across = uRadii[f] ? max(outer(f, i, j), 1e-6) : 1.0;
        float rise = (outer(f, i + up, j) - outer(f, i - up, j)) / (2.0 * float(up) * uGrid[f].y);
        float turn = (outer(f, i, j + round_) - outer(f, i, j - round_)) / (2.0 * float(round_) * uGrid[f].w * across);
        normal = normalize(vec3(1.0, -turn, -rise));
        cell.a = now.g;
      }
      float a = places(f, own ? vCell - 0.5 : vec2(i, j)).y;
      normal = normal.x * outward(f, a) + normal.y * around(f, a) + normal.z * uRows[f][0];
      int last = uRadii[f] && end ? 0 : int(cell.a);
      vec3 n = end || wall || (own && stands) ? flat_ : normalize(uEye * uTurn * normal);
      vec3 light = normalize(vec3(-0.35, 0.6, -0.75));
      float bright = 0.34 + 0.62 * abs(dot(n, light)) + 0.10 * pow(abs(n.z), 12.0);
      vec3 base = uPalette[last];
      ivec2 tile = ivec2(gl_FragCoord.xy * uPixel) & 7;
      if (texelFetch(uHatch, ivec2(tile.x, 8 * last + tile.y), 0).r == 1u) base *= 0.72; // hatching, for who cannot tell the colours
      colour = vec4(base * bright, 1.0);
    }`,

  // The part as it was drawn smaller, laid behind the rest with its depth.
  laidVertex: `#version 300 es
    void main() { gl_Position = vec4(gl_VertexID == 1 ? 3.0 : -1.0, gl_VertexID == 2 ? 3.0 : -1.0, 0.0, 1.0); }`,
  laidFragment: `#version 300 es
    precision highp float;
    uniform sampler2D uColour; uniform highp sampler2D uFar; uniform vec2 uSize; out vec4 colour;
    void main() {
      vec2 at = gl_FragCoord.xy / uSize;
      float far = texture(uFar, at).r;
      if (far >= 1.0) discard;
      colour = texture(uColour, at);
      gl_FragDepth = far;
    }`,

  pathVertex: `
    uniform vec2 uView; uniform float uWide; uniform float uNow; uniform bool uShowCut; uniform bool uShowRapid; uniform float uNear; uniform vec2 uLit; uniform vec2 uFound;
    layout(location = 0) in vec3 aFrom; layout(location = 1) in vec3 aTo; layout(location = 2) in vec3 aKind;
    flat out float vOperation; flat out int vRapid; flat out float vDone; flat out int vFound; out float vLength;
    void main() {
      vec4 a = seen(aFrom), b = seen(aTo);
      vRapid = int(aKind.y) & 1;
      vOperation = aKind.x;
      vDone = aKind.z <= uNow ? 1.0 : 0.0;
      bool hidden = vRapid == 1 ? !uShowRapid : !uShowCut;
      vec2 way = (b.xy - a.xy) * uView * 0.5;
      float length = max(length(way), 1e-6);
      vec2 side = vec2(-way.y, way.x) / length;
      float wide = uWide * (vRapid == 1 ? 0.6 : vDone > 0.5 ? 1.25 : 0.8);
      if (aKind.z > uLit.x && aKind.z <= uLit.y) wide *= 1.7; // the operation that is shown
      vFound = aKind.z > uFound.x && aKind.z <= uFound.y ? 1 : 0;
      if (vFound == 1) wide = uWide * 3.0; // the finding that the program is in, dashed or not
      int corner = gl_VertexID;
      vec4 p = (corner & 1) == 1 ? b : a;
      vLength = (corner & 1) == 1 ? length : 0.0;
      vec2 cap = (corner & 1) == 1 ? way / length : -way / length;
      p.xy += ((corner & 2) == 2 ? side : -side) * wide / uView + cap * 0.5 * wide / uView;
      p.z -= uNear;
      gl_Position = hidden ? vec4(2.0, 2.0, 2.0, 1.0) : p;
    }`,

  pathFragment: `
    uniform vec3 uPalette[9]; uniform vec3 uInk; uniform vec3 uPaper; uniform vec3 uRapid; uniform vec3 uBad;
    flat in float vOperation; flat in int vRapid; flat in float vDone; flat in int vFound; in float vLength; out vec4 colour;
    void main() {
      if (vFound == 1) { colour = vec4(uBad, 1.0); return; }
      if (vRapid == 1) {
        if (mod(vLength, 9.0) > 5.0) discard;
        colour = vec4(uRapid, 1.0);
        return;
      }
      vec3 base = uPalette[int(vOperation)];
      colour = vec4(vDone > 0.5 ? mix(base, uInk, 0.55) : mix(base, uInk, 0.2), 1.0);
    }`,

  toolVertex: `
    uniform vec3 uTip; uniform vec3 uToolX; uniform vec3 uToolZ;
    layout(location = 0) in vec3 aPlace; layout(location = 1) in vec3 aNormal;
    out vec3 vNormal;
    void main() {
      vec3 y = cross(uToolZ, uToolX);
      vec3 p = uTip + aPlace.x * uToolX + aPlace.y * y + aPlace.z * uToolZ;
      vNormal = uEye * (aNormal.x * uToolX + aNormal.y * y + aNormal.z * uToolZ);
      gl_Position = seen(p);
    }`,

  toolFragment: `
    uniform vec4 uTool; in vec3 vNormal; out vec4 colour;
    void main() {
      vec3 n = normalize(vNormal);
      colour = vec4(uTool.rgb * (0.45 + 0.6 * abs(dot(n, normalize(vec3(-0.35, 0.6, -0.75))))), uTool.a);
    }`,
};

// Compile and link; throws with the card's own words.
steadyrest.program = function (gl, vertex, fragment) {
  const program = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS) && !gl.isContextLost()) throw new Error(gl.getShaderInfoLog(shader));
  }
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS) && !gl.isContextLost()) throw new Error(gl.getProgramInfoLog(program));
  const places = {};
  const uniforms = gl.getProgramParameter(program, gl.ACTIVE_UNIFORMS);
  for (let k = 0; k < uniforms; k++) {
    const name = gl.getActiveUniform(program, k).name;
    places[name.replace("[0]", "")] = gl.getUniformLocation(program, name);
  }
  return { program, at: places };
};
