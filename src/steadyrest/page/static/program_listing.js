// The lines of a program under their headings. Only those in sight are in the page; a listing taller than browsers can hold is scrolled in
// proportion.
const WORD = /\([^)]*\)|;.*|[A-Za-z:]\s*[-+]?(?:\d+\.?\d*|\.\d+)|[^\sA-Za-z:(;]+|\S/g;
const LONGEST = 1000;

const made = (name, className, text) => {
  const element = document.createElement(name);
  if (className) element.className = className;
  if (text !== undefined) element.textContent = text;
  return element;
};

// A line's words, comments and marks, in order: the same as the server tells apart.
export const wordsOf = (text) => [...text.slice(0, LONGEST).matchAll(WORD)].map((found) => ({ at: found.index, text: found[0] }));

// source: `size()` lines; `line(n)`: {text, from}; `headings()`: [{before, text, below}], by the line each stands before, in order;
// `signs(from, n)`: [{kind, text}] behind a line; `chosen(n, word)`, `hovered(n, word)` or `hovered(0)`,
// `rested(first, last)` on the lines in sight, `opened()`.
export function makeListing(holder, tall, source) {
  const rows = new Map();
  let headings = [], digits = 1, rowHigh = 27, full = 0, high = 0, current = 0, word = -1, anchor = 0, seen = "", resting;
  const most = 8e6;

  const rowOf = (line) => {
    let low = 0, up = headings.length;
    while (low < up) { const half = (low + up) >> 1; if (headings[half].before <= line) low = half + 1; else up = half; }
    return line - 1 + low;
  };
  // What row `at` shows, from 0: a heading's index or a line's number.
  function shownAt(at) {
    let low = 0, up = headings.length;
    while (low < up) { const half = (low + up) >> 1; if (headings[half].before - 1 + half < at + 1) low = half + 1; else up = half; }
    return low && headings[low - 1].before - 1 + low - 1 === at ? { heading: headings[low - 1] } : { line: at - low + 1 };
  }
  const count = () => source.size() + headings.length;

  function top() {
    const room = high - holder.clientHeight;
    return room <= 0 || full <= most ? holder.scrollTop : (holder.scrollTop / room) * (full - holder.clientHeight);
  }
  function renew() {
    headings = source.headings();
    digits = String(source.size()).length;
    rowHigh = 1.7 * parseFloat(getComputedStyle(holder).fontSize);
    full = count() * rowHigh;
    high = Math.min(full, most);
    tall.style.height = `${high}px`;
    holder.setAttribute("aria-rowcount", count());
    for (const row of rows.values()) row.remove();
    rows.clear();
    current = Math.min(current, source.size());
    anchor = Math.min(anchor, source.size());
    show();
  }
  function rowFor(at) {
    const { heading, line } = shownAt(at), row = made("div");
    row.setAttribute("role", "row");
    row.setAttribute("aria-rowindex", at + 1);
    if (heading) {
      row.className = heading.below ? "heading below" : "heading";
      const cell = made("span", "", heading.text);
      cell.setAttribute("role", "columnheader");
      row.append(cell);
      return row;
    }
    const { text, from } = source.line(line), number = made("span", "number", String(line));
    row.dataset.line = line;
    row.id = `row-${line}`;
    number.setAttribute("role", "rowheader");
    number.style.minWidth = `${digits + 1}ch`;
    row.append(number);
    let past = 0;
    wordsOf(text).forEach((one, index) => {
      if (one.at > past) row.append(text.slice(past, one.at));
      const cell = made("span", "word", one.text);
      cell.setAttribute("role", "gridcell");
      cell.id = `word-${line}-${index}`;
      cell.dataset.word = index;
      row.append(cell);
      past = one.at + one.text.length;
    });
    if (text.length > LONGEST) row.append(` ... and ${(text.length - LONGEST).toLocaleString("en")} characters more`);
    if (!from) row.classList.add("changed");
    for (const sign of source.signs(from, line)) {
      const cell = made("span", `sign ${sign.kind}`, sign.text);
      cell.setAttribute("role", "gridcell");
      if (sign.title) cell.title = sign.title;
      row.append(cell);
    }
    if (row.childElementCount === 1) {
      const empty = made("span");
      empty.setAttribute("role", "gridcell");
      row.append(empty);
    }
    return row;
  }
  function show() {
    const begin = top(), first = Math.max(0, Math.floor(begin / rowHigh) - 4), last = Math.min(count() - 1, Math.ceil((begin + holder.clientHeight) / rowHigh) + 4);
    for (const [at, row] of rows) if (at < first || at > last) { row.remove(); rows.delete(at); }
    const [low, up] = range();
    for (let at = first; at <= last; at++) {
      let row = rows.get(at);
      if (!row) { row = rowFor(at); rows.set(at, row); tall.append(row); }
      row.style.top = `${holder.scrollTop + at * rowHigh - begin}px`;
      const line = Number(row.dataset.line || 0);
      if (!line) continue;
      row.classList.toggle("now", line === current);
      row.classList.toggle("in", line >= low && line <= up);
      row.setAttribute("aria-selected", line >= low && line <= up ? "true" : "false");
      for (const cell of row.querySelectorAll(".word")) cell.classList.toggle("chosen", line === current && Number(cell.dataset.word) === word);
    }
    clearTimeout(resting);
    resting = setTimeout(rest, 150);
    const id = word >= 0 ? `word-${current}-${word}` : `row-${current}`;
    if (document.getElementById(id)) holder.setAttribute("aria-activedescendant", id); else holder.removeAttribute("aria-activedescendant");
  }
  function rest() {
    const lines = [...rows.values()].map((row) => Number(row.dataset.line || 0)).filter(Boolean);
    if (lines.length) source.rested(Math.min(...lines), Math.max(...lines));
  }
  const range = () => (current ? [Math.min(current, anchor || current), Math.max(current, anchor || current)] : [0, 0]);

  function bring(line) {
    const want = (rowOf(line) + 0.5) * rowHigh, begin = top(), sight = holder.clientHeight;
    if (want < begin + 2 * rowHigh || want > begin + sight - 2 * rowHigh) {
      const next = Math.max(0, Math.min(want - sight / 2, full - sight)), room = high - sight;
      holder.scrollTop = full <= most ? next : (next / (full - sight)) * room;
    }
    show();
    // A word out of sight to the side.
    const cell = document.getElementById(`word-${current}-${word}`);
    if (cell && (cell.offsetLeft < holder.scrollLeft || cell.offsetLeft + cell.offsetWidth > holder.scrollLeft + holder.clientWidth)) {
      holder.scrollLeft = Math.max(0, cell.offsetLeft - holder.clientWidth / 3);
    }
  }
  // Choose a line, and a word of it (-1: the line as a whole); `wider`: the lines from the anchor on stay marked.
  function go(line, nth = -1, wider = false) {
    if (!source.size()) return;
    current = Math.max(1, Math.min(source.size(), line));
    const words = wordsOf(source.line(current).text).length;
    word = Math.max(-1, Math.min(words - 1, nth));
    if (!wider) anchor = current;
    bring(current);
    source.chosen(current, word);
  }
  function step(by, wider) {
    go((current || 1) + by, -1, wider);
  }
  holder.addEventListener("scroll", show, { passive: true });
  tall.addEventListener("click", (event) => {
    const row = event.target.closest("[data-line]"), cell = event.target.closest("[data-word]");
    if (row) go(Number(row.dataset.line), cell ? Number(cell.dataset.word) : -1, event.shiftKey);
  });
  tall.addEventListener("dblclick", () => source.opened());
  tall.addEventListener("pointerover", (event) => {
    if (event.pointerType === "touch") return;
    const cell = event.target.closest("[data-word]");
    const now = cell ? cell.id : "";
    if (now === seen) return;
    seen = now;
    source.hovered(cell ? Number(cell.closest("[data-line]").dataset.line) : 0, cell ? Number(cell.dataset.word) : -1);
  });
  tall.addEventListener("pointerleave", () => { seen = ""; source.hovered(0, -1); });
  holder.addEventListener("keydown", (event) => {
    const page = Math.max(1, Math.floor(holder.clientHeight / rowHigh) - 2);
    const steps = { ArrowDown: 1, ArrowUp: -1, PageDown: page, PageUp: -page, Home: -source.size(), End: source.size() };
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key in steps) step(current ? steps[event.key] : event.key === "End" ? source.size() : 0, event.shiftKey);
    else if (event.key === "ArrowRight") go(current || 1, word + 1, true);
    else if (event.key === "ArrowLeft") go(current || 1, word - 1, true);
    else if (event.key === "Enter") source.opened();
    else return;
    event.preventDefault();
  });
  new ResizeObserver(show).observe(holder);
  return { go, renew, show, range, get current() { return current; }, get word() { return word; } };
}
