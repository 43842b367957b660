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

  // The field's cells are texels, with which way each looks (across, around, along: see lookOf) and what cut it; the mesh is coarser.
  field: `
    uniform usampler2D uOuter; uniform usampler2D uLook; uniform float uStep;
    uniform ivec2 uCells; uniform vec4 uGrid; uniform float uBase; uniform bool uRadii;
    float outer(int i, int j) {
      i = clamp(i, 0, uCells.x - 1);
      j = uRadii ? (j % uCells.y + uCells.y) % uCells.y : clamp(j, 0, uCells.y - 1);
      return float(texelFetch(uOuter, ivec2(j, i), 0).r) * uStep;
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
    uniform ivec2 uMesh;
    out vec2 vCell; out vec3 vEye; flat out int vEnd;
    void main() {
      int wide = uRadii ? uMesh.y + 1 : uMesh.y + 3;
      int row = gl_VertexID / wide, column = gl_VertexID % wide, last = uMesh.x;
      float i = float(clamp(row - 2, 0, last)) / float(last) * float(uCells.x);
      float j = float(uRadii ? column : clamp(column - 1, 0, uMesh.y)) / float(uMesh.y) * float(uCells.y);
      bool edge = !uRadii && (column <= 1 || column >= uMesh.y + 1);
      vEnd = row <= 1 || row >= last + 3 || edge ? 1 : 0;
      bool nothing = row == 0 || row == last + 4 || (!uRadii && (column == 0 || column == uMesh.y + 2));
      float r = nothing ? 0.0 : outer(min(int(i), uCells.x - 1), uRadii ? int(j) : min(int(j), uCells.y - 1));
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
    uniform vec3 uPalette[9]; uniform int uSpan;
    in vec2 vCell; in vec3 vEye; flat in int vEnd; out vec4 colour;
    uvec4 look(int i, int j) { return texelFetch(uLook, ivec2(j, clamp(i, 0, uCells.x - 1)), 0); }
    void main() {
      int i = int(floor(vCell.x)), j = int(floor(vCell.y));
      j = uRadii ? (j % uCells.y + uCells.y) % uCells.y : clamp(j, 0, uCells.y - 1);
      uvec4 cell = look(i, j);
      bool there = cell.a < 255u, wall = !there;
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
      if (uRadii) {
        float a = uGrid.z + (vCell.y - 0.5) * uGrid.w;
        normal = normal.x * outward(a) + normal.y * around(a) + normal.z * along();
      } else {
        normal = vec3(normal.z, normal.y, normal.x);
      }
      int last = uRadii && vEnd != 0 ? 0 : int(cell.a);
      // On walls, where the mesh stands and the cells lie, the mesh says how the light falls.
      vec3 flat_ = normalize(cross(dFdx(vEye), dFdy(vEye)));
      bool stands = !uRadii && abs(dot(flat_, uEye * vec3(0.0, 0.0, 1.0))) < 0.6;
      vec3 n = vEnd != 0 || wall || stands ? flat_ : normalize(uEye * turned(normal));
      vec3 light = normalize(vec3(-0.35, 0.6, -0.75));
      float bright = 0.34 + 0.62 * abs(dot(n, light)) + 0.10 * pow(abs(n.z), 12.0);
      vec3 base = uPalette[last];
      colour = vec4(base * bright, 1.0);
    }`,

  pathVertex: `
    uniform vec2 uView; uniform float uWide; uniform float uNow; uniform bool uShowCut; uniform bool uShowRapid; uniform float uNear;
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
    uniform vec3 uTool; in vec3 vNormal; out vec4 colour;
    void main() {
      vec3 n = normalize(vNormal);
      colour = vec4(uTool * (0.45 + 0.6 * abs(dot(n, normalize(vec3(-0.35, 0.6, -0.75))))), 0.72);
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
