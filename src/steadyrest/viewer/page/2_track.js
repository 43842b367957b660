// Where machine and tip are along the program. A place on the way is a number: 3.25 is a quarter of the way from position 3 to 4.
"use strict";

steadyrest.makeTrack = function (facts, columns) {
  const { line, x, y, z, minutes, operation, flags, tool } = columns;
  const speeds = (column) => column.map((speed) => (speed < 0 ? NaN : speed)), tip = speeds(columns.tip);
  // Of each rotary, counted from the part to the spindle.
  const words = facts.rotaries.map((_, at) => columns[`turned_${at}`]), turning = facts.rotaries.map((_, at) => speeds(columns[`turning_${at}`]));
  const count = line.length;
  const { lines, gauge } = facts, longest = Math.max(0, ...Object.values(gauge)), RADIAN = Math.PI / 180;

  // Turns a place in the hand, right-hand about a line that stands `lift` higher (Rodrigues).
  function turn(v, { about: [a, b, c], point: [px, py, pz] }, radians, lift) {
    const x = v[0] - px, y = v[1] - py, z = v[2] - pz - lift, cos = Math.cos(radians), sin = Math.sin(radians), along = (1 - cos) * (a * x + b * y + c * z);
    v[0] = px + cos * x + sin * (b * z - c * y) + along * a;
    v[1] = py + cos * y + sin * (c * x - a * z) + along * b;
    v[2] = pz + lift + cos * z + sin * (a * y - b * x) + along * c;
  }
  // The rotaries that carry the part, between the machine (work coordinates) and the part: a place (3) with the words, degrees.
  function toPart(v, degrees) {
    for (let at = lines.length - 1; at >= 0; at--) if (lines[at].part) turn(v, lines[at], degrees[at] * RADIAN, 0);
    return v;
  }
  function toMachine(v, degrees, first = 0) {
    for (let at = first; at < lines.length; at++) if (lines[at].part) turn(v, lines[at], -degrees[at] * RADIAN, 0);
    return v;
  }
  // What the head carries, to the machine; before it is turned it stands over the tip at X Y Z. `last`: of the lines, the outermost first.
  function ofHead(v, work, degrees, number, last = lines.length) {
    for (let at = last - 1; at >= 0; at--) if (!lines[at].part) turn(v, lines[at], degrees[at] * RADIAN, gauge[number] ?? longest);
    for (const k of [0, 1, 2]) v[k] += work[k];
    return v;
  }
  // The axis of a rotary as it stands on the machine: the rotaries between it and the bed have turned it. Its place there, and its direction.
  function lineNow(at, { work, words: degrees, tool: number }) {
    const { part, point: [x, y, z], positive } = lines[at], lift = part ? 0 : gauge[number] ?? longest;
    const put = (v) => (part ? toMachine(v, degrees, at + 1) : ofHead(v, work, degrees, number, at)), from = put([x, y, z + lift]);
    return [from, put([x + positive[0], y + positive[1], z + lift + positive[2]]).map((value, k) => value - from[k])];
  }

  // Where the tip is on the machine and in the part.
  const machine = new Float32Array(3 * count), part = new Float32Array(3 * count), degrees = words.map(() => 0);
  for (let k = 0; k < count; k++) {
    for (let at = 0; at < words.length; at++) degrees[at] = words[at][k];
    const tip = ofHead([0, 0, 0], [x[k], y[k], z[k]], degrees, tool[k]);
    machine.set(tip, 3 * k);
    part.set(toPart(tip, degrees), 3 * k);
  }

  // The first k for which column[k] >= value; the column rises.
  function search(column, value) {
    let low = 0, high = count;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (column[middle] < value) low = middle + 1; else high = middle;
    }
    return low;
  }

  function state(place) {
    const k = Math.min(Math.ceil(place), count - 1), before = Math.max(k - 1, 0);
    const share = k === before ? 0 : place - before;
    const mix = (column) => column[before] + share * (column[k] - column[before]);
    const at = [mix(x), mix(y), mix(z)], degrees = words.map(mix);
    // The tip, and a place on the tool's axis over it.
    const [tip, over] = [0, 1].map((up) => ofHead([0, 0, up], at, degrees, tool[k])), inPart = [tip, over].map((each) => toPart(each.slice(), degrees));
    return { k, line: line[k], operation: operation[k], tool: tool[k], work: at, words: degrees, machine: tip, part: inPart[0],
      axis: { machine: over.map((value, n) => value - tip[n]), part: inPart[1].map((value, n) => value - inPart[0][n]) }, minutes: mix(minutes),
      rapid: (flags[k] & 1) === 1, known: (flags[k] & 2) === 2, tip: tip[k] };
  }

  // The last place that is reached at that time.
  function placeAt(time) {
    let low = 0, high = count - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (minutes[middle] <= time) low = middle; else high = middle - 1;
    }
    if (low >= count - 1) return count - 1;
    return low + (time - minutes[low]) / (minutes[low + 1] - minutes[low]);
  }

  // The end of a line's block; lines that do not move lead to the next one that does.
  function placeOfLine(wanted) {
    const first = search(line, wanted);
    if (first >= count) return count - 1;
    return Math.max(search(line, line[first] + 1) - 1, 0);
  }

  // The first and the last position of an operation's way.
  const stretchOf = (number) => [Math.max(search(operation, number) - 1, 0), Math.max(search(operation, number + 1) - 1, 0)];

  return { count, line, minutes, operation, flags, tip, turning, x, y, z, words, machine, part, search, state, placeAt, placeOfLine, stretchOf, toPart, toMachine, ofHead, lineNow,
    whole: minutes[count - 1] || 0, isRapid: (k) => (flags[k] & 1) === 1 };
};

// One place in the program that everything on the page shows; `show` is called with its state whenever it changes.
steadyrest.makePlace = function (track) {
  const listeners = [];
  let place = 0, state = track.state(0);
  return {
    get place() { return place; },
    get state() { return state; },
    listen(show) { listeners.push(show); show(state, "start"); },
    set(next, by) {
      place = Math.min(Math.max(next, 0), track.count - 1);
      state = track.state(place);
      for (const show of listeners) show(state, by);
    },
  };
};
