// Where machine and tip are along the program. A place on the way is a number: 3.25 is a quarter of the way from position 3 to 4.
"use strict";

steadyrest.makeTrack = function (facts, columns) {
  const { line, x, y, z, minutes, operation, flags, tool } = columns;
  const speeds = (column) => column.map((speed) => (speed < 0 ? NaN : speed)), tip = speeds(columns.tip);
  // Of each rotary, counted from the part to the spindle.
  const words = facts.rotaries.map((_, at) => columns[`turned_${at}`]), turning = facts.rotaries.map((_, at) => speeds(columns[`turning_${at}`]));
  const count = line.length;
  const order = { X: [0, 1, 2], Y: [1, 2, 0], Z: [2, 0, 1] }[facts.axis];
  const centre = facts.centre;

  // Part frame: p = c + R(-phi)(m - c), phi = sense * word; across the axis in the order of a right-hand turn.
  function toPart(work, phi) {
    const [along, one, two] = order;
    const u = work[one] - centre[one], v = work[two] - centre[two];
    const cos = Math.cos(phi), sin = Math.sin(phi);
    const part = [0, 0, 0];
    part[along] = work[along];
    part[one] = centre[one] + cos * u + sin * v;
    part[two] = centre[two] - sin * u + cos * v;
    return part;
  }
  const phiOf = (degrees) => (facts.sense * degrees * Math.PI) / 180;

  // About a unit vector, right-hand (Rodrigues).
  function rotated(vector, about, radians) {
    const cos = Math.cos(radians), sin = Math.sin(radians), [a, b, c] = about, [u, v, w] = vector, along = (1 - cos) * (a * u + b * v + c * w);
    return [cos * u + sin * (b * w - c * v) + along * a, cos * v + sin * (c * u - a * w) + along * b, cos * w + sin * (a * v - b * u) + along * c];
  }
  // Where the tip is in the part, how far the part is turned, and with two rotaries or a head where the tool points in the part.
  const gauges = facts.chain ? facts.chain.gauge : {}, longest = Math.max(0, ...Object.values(gauges));
  function pose(work, degrees, number) {
    if (!facts.chain) { const phi = phiOf(degrees[0] || 0); return { part: toPart(work, phi), phi, axis: null }; }
    let part = [0, 0, 0], axis = [0, 0, 1], moved = false;
    const move = () => { moved = true; part = part.map((value, k) => value + work[k]); };
    for (let at = facts.chain.lines.length - 1; at >= 0; at--) {
      const one = facts.chain.lines[at], angle = (degrees[at] * Math.PI) / 180;
      const through = one.part ? one.point : [one.point[0], one.point[1], one.point[2] + (gauges[number] ?? longest)];
      if (one.part && !moved) move();
      part = rotated(part.map((value, k) => value - through[k]), one.about, angle).map((value, k) => value + through[k]);
      axis = rotated(axis, one.about, angle);
    }
    if (!moved) move();
    return { part, phi: 0, axis };
  }

  const work = new Float32Array(3 * count), part = new Float32Array(3 * count);
  for (let k = 0; k < count; k++) {
    const at = [x[k], y[k], z[k]];
    work.set(at, 3 * k);
    part.set(pose(at, words.map((column) => column[k]), tool[k]).part, 3 * k);
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
    return { k, line: line[k], operation: operation[k], tool: tool[k], work: at, words: degrees, ...pose(at, degrees, tool[k]), minutes: mix(minutes),
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

  return { count, line, minutes, operation, flags, tip, turning, x, y, z, words, work, part, search, state, placeAt, placeOfLine, stretchOf, toPart, phiOf,
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
