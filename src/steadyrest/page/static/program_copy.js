// A copy of a program, kept as the changes by which it differs: lines `first` to `last` of the program became `lines`.
// `last` is first - 1 where lines were only put in.
export function makeCopy(count, posted) {
  let changes = [];

  // What the copy is made of, in order: stretches of the program, and lines that stand in it instead.
  function pieces() {
    const found = [];
    let at = 0;
    for (const one of changes) {
      if (one.first - 1 > at) found.push({ first: at + 1, size: one.first - 1 - at });
      if (one.lines.length) found.push({ lines: one.lines, size: one.lines.length });
      at = one.last;
    }
    if (at < count) found.push({ first: at + 1, size: count - at });
    return found;
  }
  const size = () => changes.reduce((sum, one) => sum + one.lines.length - (one.last - one.first + 1), count);

  // A line of the copy: its text, and its number in the program, 0 where it was put in by hand.
  function line(number) {
    let left = number;
    for (const one of pieces()) {
      if (left <= one.size) return one.lines ? { text: one.lines[left - 1], from: 0 } : { text: posted(one.first + left - 1), from: one.first + left - 1 };
      left -= one.size;
    }
    return { text: "", from: 0 };
  }
  // Where a line of the program is in the copy; where it was taken out, what stands in its place.
  function placeOf(from) {
    let shift = 0;
    for (const one of changes) {
      if (one.last < one.first ? one.first > from : one.last >= from) {
        if (one.first > from || one.last < one.first) break;
        return Math.max(1, Math.min(size(), one.first + shift));
      }
      shift += one.lines.length - (one.last - one.first + 1);
    }
    return from + shift;
  }
  function replace(first, last, lines) {
    const kept = [];
    let at = 1;
    const part = (one, begin, end) => {  // lines begin to end of a piece, counted from 1
      if (end >= begin) kept.push(one.lines ? { lines: one.lines.slice(begin - 1, end) } : { first: one.first + begin - 1, size: end - begin + 1 });
    };
    let put = false;
    for (const one of pieces()) {
      part(one, 1, Math.min(one.size, first - at));
      if (!put && first <= at + one.size - 1) { kept.push({ lines }); put = true; }
      part(one, Math.max(1, last - at + 2), one.size);
      at += one.size;
    }
    if (!put) kept.push({ lines });
    changes = joined(kept);
  }
  function joined(kept) {
    const found = [];
    let before = 0, lines = [];
    const end = (next) => {
      const one = { first: before + 1, last: next - 1, lines };
      while (one.first <= one.last && one.lines.length && one.lines[0] === posted(one.first)) { one.first += 1; one.lines = one.lines.slice(1); }
      while (one.first <= one.last && one.lines.length && one.lines.at(-1) === posted(one.last)) { one.last -= 1; one.lines = one.lines.slice(0, -1); }
      if (one.first <= one.last || one.lines.length) found.push(one);
    };
    for (const one of kept) {
      if (one.lines) lines = lines.concat(one.lines);
      else { end(one.first); before = one.first + one.size - 1; lines = []; }
    }
    end(count + 1);
    return found;
  }
  return {
    size, line, placeOf, replace,
    changes: () => changes,
    set: (next) => { changes = next; },
    undo: (at) => { changes = changes.filter((_, index) => index !== at); },
  };
}
