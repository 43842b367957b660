// What the graphics card does: the part from its field of radii or heights, the path as ribbons of even width, the tool.
"use strict";

steadyrest.shaders = {
  // Turns (uTurn: cos and sin of phi about the axis of rotation through uCentre) and projects, evenly scaled, without perspective.
  common: `#version 300 es
    precision highp float; precision highp int; precision highp usampler2D;
    uniform mat3 uEye; uniform vec3 uTarget; uniform vec2 uScale; uniform float uDepth;
    uniform vec2 uTurn; uniform vec3 uCentre; uniform int uAxis;
    vec3 turned(vec3 v) {
      float c = uTurn.x, s = uTurn.y;
      if (uAxis == 0) return vec3(v.x, c * v.y - s * v.z, s * v.y + c * v.z);
      if (uAxis == 1) return vec3(c * v.x + s * v.z, v.y, c * v.z - s * v.x);
      return vec3(c * v.x - s * v.y, s * v.x + c * v.y, v.z);
    }
    vec4 seen(vec3 p) {
      vec3 e = uEye * (p - uTarget);
      return vec4(e.x * uScale.x, e.y * uScale.y, e.z * uDepth, 1.0);
    }`,

  // The field's cells are texels, with which way each looks (across, around, along: see lookOf) and what cut it; the mesh is coarser. What
  // of it is not cut yet stands in a coarser field: its outermost material and what cut that, 0 where all is as it will be at the end.
  field: `
    uniform usampler2D uOuter; uniform usampler2D uLook; uniform usampler2D uYet; uniform float uStep;
    uniform ivec2 uCells; uniform ivec4 uYetAt; uniform ivec2 uYetCells; uniform vec4 uGrid; uniform float uBase; uniform bool uRadii;
    int column(int j) { return uRadii ? (j % uCells.y + uCells.y) % uCells.y : clamp(j, 0, uCells.y - 1); }
    uvec2 yet(int i, int j) {
      if (uYetCells.x == 0) return uvec2(0u);
      int a = clamp((clamp(i, 0, uCells.x - 1) - uYetAt.x + uYetAt.y / 2) / uYetAt.y, 0, uYetCells.x - 1);
      int b = (column(j) - uYetAt.z + uYetAt.w / 2) / uYetAt.w;
      return texelFetch(uYet, ivec2(uRadii ? b % uYetCells.y : clamp(b, 0, uYetCells.y - 1), a), 0).rg;
    }
    float outer(int i, int j) {
      uint end = texelFetch(uOuter, ivec2(column(j), clamp(i, 0, uCells.x - 1)), 0).r;
      return float(max(end, yet(i, j).r)) * uStep;
    }
    vec3 outward(float a) {
      if (uAxis == 0) return vec3(0.0, -sin(a), cos(a));
      return vec3(sin(a), 0.0, cos(a));
    }
    vec3 around(float a) {
      if (uAxis == 0) return vec3(0.0, -cos(a), -sin(a));
      return vec3(cos(a), 0.0, -sin(a));
    }
    vec3 along() { return uAxis == 0 ? vec3(1.0, 0.0, 0.0) : vec3(0.0, 1.0, 0.0); }`,

  partVertex: `
    uniform ivec2 uMesh; uniform bool uFine;
    out vec2 vCell; out vec3 vEye; flat out int vEnd;
    // Walls stand between two cells, not between two vertices: how far it is to the nearest one, in cells, no further than the next vertex.
    // Both of its vertices are moved there, one on either side, so that it is upright and as straight as the field is fine.
    float wall(ivec2 at, ivec2 way, int most, float wide) {
      float before = outer(at.x, at.y), behind = before;
      for (int d = 1; d <= most; d++) {
        float next = outer(at.x + d * way.x, at.y + d * way.y), last = outer(at.x - d * way.x, at.y - d * way.y);
        if (abs(next - before) > wide) return float(d);
        if (abs(last - behind) > wide) return float(1 - d);
        before = next;
        behind = last;
      }
      return 0.0;
    }
    vec2 toWall(ivec2 at, float r) {
      vec2 wide = 2.5 * vec2(uGrid.y, uRadii ? uGrid.w * max(r, 1e-6) : uGrid.w), mesh = vec2(uCells) / vec2(uMesh);
      float i = wall(at, ivec2(1, 0), int(ceil(mesh.x)), wide.x), j = wall(at, ivec2(0, 1), int(ceil(mesh.y)), wide.y);
      if (i != 0.0 && (j == 0.0 || abs(i) / mesh.x <= abs(j) / mesh.y)) return vec2(i, 0.0);
      return vec2(0.0, j);
    }
    void main() {
      int wide = uRadii ? uMesh.y + 1 : uMesh.y + 3;
      int row = gl_VertexID / wide, column = gl_VertexID % wide, last = uMesh.x;
      float i = float(clamp(row - 2, 0, last)) / float(last) * float(uCells.x);
      float j = float(uRadii ? column : clamp(column - 1, 0, uMesh.y)) / float(uMesh.y) * float(uCells.y);
      bool edge = !uRadii && (column <= 1 || column >= uMesh.y + 1);
      vEnd = row <= 1 || row >= last + 3 || edge ? 1 : 0;
      bool nothing = row == 0 || row == last + 4 || (!uRadii && (column == 0 || column == uMesh.y + 2));
      float r = nothing ? 0.0 : outer(min(int(i), uCells.x - 1), uRadii ? int(j) : min(int(j), uCells.y - 1));
      ivec2 cell = ivec2(min(int(i), uCells.x - 1), uRadii ? int(j) : min(int(j), uCells.y - 1));
      if (uFine && vEnd == 0 && int(i) > 0 && int(i) < uCells.x) {
        vec2 moved = toWall(cell, r);
        if (moved.x != 0.0) i = clamp(float(cell.x) + moved.x, 0.0, float(uCells.x));
        if (moved.y != 0.0) j = float(cell.y) + moved.y;
      }
      vCell = vec2(i, j);
      vec3 place;
      if (uRadii) {
        float a = uGrid.z + (j - 0.5) * uGrid.w;
        place = uCentre + along() * (uGrid.x + (i - 0.5) * uGrid.y) + outward(a) * r;
      } else {
        place = uCentre + vec3(uGrid.x + (i - 0.5) * uGrid.y, uGrid.z + (j - 0.5) * uGrid.w, uBase + r);
      }
      vec3 p = uCentre + turned(place - uCentre);
      vEye = uEye * (p - uTarget);
      gl_Position = seen(p);
    }`,

  partFragment: `
    uniform vec3 uPalette[9]; uniform int uSpan; uniform usampler2D uHatch; uniform float uPixel;
    in vec2 vCell; in vec3 vEye; flat in int vEnd; out vec4 colour;
    uvec4 look(int i, int j) { return texelFetch(uLook, ivec2(j, clamp(i, 0, uCells.x - 1)), 0); }
    void main() {
      int i = int(floor(vCell.x)), j = int(floor(vCell.y));
      j = uRadii ? (j % uCells.y + uCells.y) % uCells.y : clamp(j, 0, uCells.y - 1);
      uvec4 cell = look(i, j);
      uvec2 now = yet(i, j);
      bool early = now.r > 0u, there = early || cell.a < 255u, wall = !there;
      // A wall between something and nothing is as wide as the mesh; the colour is that of the nearest cell that is there.
      for (int d = 1; d <= uSpan && !there; d++) {
        for (int k = 0; k < 8 && !there; k++) {
          ivec2 at = ivec2(i, j) + d * ivec2(k < 3 ? -1 : k < 5 ? 0 : 1, k == 0 || k == 3 || k == 5 ? -1 : k == 1 || k == 6 ? 0 : 1);
          cell = look(at.x, uRadii ? (at.y + uCells.y) % uCells.y : clamp(at.y, 0, uCells.y - 1));
          there = cell.a < 255u;
        }
      }
      if (!there) discard;
      vec3 normal = (vec3(cell.xyz) - 128.0) / 127.0;
      if (early) { // the coarser field says how it rises around here
        int up = uYetAt.y, round_ = uYetAt.w;
        float across = uRadii ? max(outer(i, j), 1e-6) : 1.0;
        float rise = (outer(i + up, j) - outer(i - up, j)) / (2.0 * float(up) * uGrid.y);
        float turn = (outer(i, j + round_) - outer(i, j - round_)) / (2.0 * float(round_) * uGrid.w * across);
        normal = normalize(vec3(1.0, -turn, -rise));
        cell.a = now.g;
      }
      if (uRadii) {
        float a = uGrid.z + (vCell.y - 0.5) * uGrid.w;
        normal = normal.x * outward(a) + normal.y * around(a) + normal.z * along();
      } else {
        normal = vec3(normal.z, normal.y, normal.x);
      }
      int last = uRadii && vEnd != 0 ? 0 : int(cell.a);
      // On walls, where the mesh stands and the cells lie, the mesh says how the light falls.
      vec3 flat_ = normalize(cross(dFdx(vEye), dFdy(vEye)));
      vec3 up_ = uRadii ? outward(uGrid.z + (vCell.y - 0.5) * uGrid.w) : vec3(0.0, 0.0, 1.0);
      bool stands = abs(dot(flat_, uEye * turned(up_))) < (uRadii ? 0.3 : 0.6);
      vec3 n = vEnd != 0 || wall || stands ? flat_ : normalize(uEye * turned(normal));
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
    uniform vec2 uView; uniform float uWide; uniform float uNow; uniform bool uShowCut; uniform bool uShowRapid; uniform float uNear; uniform vec2 uLit;
    layout(location = 0) in vec3 aFrom; layout(location = 1) in vec3 aTo; layout(location = 2) in vec3 aKind;
    flat out float vOperation; flat out int vRapid; flat out float vDone; out float vLength;
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
      if (aKind.z >= uLit.x && aKind.z < uLit.y) wide *= 1.7; // the operation that is shown
      int corner = gl_VertexID;
      vec4 p = (corner & 1) == 1 ? b : a;
      vLength = (corner & 1) == 1 ? length : 0.0;
      vec2 cap = (corner & 1) == 1 ? way / length : -way / length;
      p.xy += ((corner & 2) == 2 ? side : -side) * wide / uView + cap * 0.5 * wide / uView;
      p.z -= uNear;
      gl_Position = hidden ? vec4(2.0, 2.0, 2.0, 1.0) : p;
    }`,

  pathFragment: `
    uniform vec3 uPalette[9]; uniform vec3 uInk; uniform vec3 uPaper; uniform vec3 uRapid;
    flat in float vOperation; flat in int vRapid; flat in float vDone; in float vLength; out vec4 colour;
    void main() {
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
