// Where machine and tip are along the program. A place on the way is a number: 3.25 is a quarter of the way from position 3 to 4.
"use strict";

steadyrest.makeTrack = function (facts, columns) {
  const { line, x, y, z, word, minutes, operation, flags, tool } = columns;
  const [tip, rotary] = [columns.tip, columns.rotary].map((speeds) => speeds.map((speed) => (speed < 0 ? NaN : speed)));
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

  const work = new Float32Array(3 * count), part = new Float32Array(3 * count);
  for (let k = 0; k < count; k++) {
    const at = [x[k], y[k], z[k]];
    work.set(at, 3 * k);
    part.set(toPart(at, phiOf(word[k])), 3 * k);
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
    const at = [mix(x), mix(y), mix(z)], degrees = mix(word), phi = phiOf(degrees);
    return { k, line: line[k], operation: operation[k], tool: tool[k], work: at, word: degrees, phi, part: toPart(at, phi), minutes: mix(minutes),
      rapid: (flags[k] & 1) === 1, known: (flags[k] & 2) === 2, tip: tip[k], rotary: rotary[k] };
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

  return { count, line, minutes, operation, flags, tip, rotary, x, y, z, word, work, part, search, state, placeAt, placeOfLine, stretchOf, toPart, phiOf,
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
