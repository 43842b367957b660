// The program's own lines. Only those in sight are in the page; a listing taller than browsers can hold is scrolled in proportion.
"use strict";

steadyrest.makeListing = function (holder, tall, text, found, track, place, { mark, within, inFinding }) {
  const starts = [0];
  for (let at = 0; at < text.length; at++) {
    if (text[at] === 10) starts.push(at + 1);
    else if (text[at] === 13) { if (text[at + 1] === 10) at++; starts.push(at + 1); }
  }
  if (starts[starts.length - 1] >= text.length) starts.pop();
  const count = starts.length, digits = String(count).length;
  const decoder = new TextDecoder("windows-1252");
  const lineText = (line) => decoder.decode(text.subarray(starts[line - 1], line < count ? starts[line] : text.length)).replace(/[\r\n]+$/, "");
  const rowHigh = 1.6 * parseFloat(getComputedStyle(holder).fontSize);
  const most = 8e6, full = count * rowHigh, high = Math.min(full, most);
  tall.style.height = `${high}px`;
  let widest = 0;
  for (let line = 1; line <= count; line++) widest = Math.max(widest, (line < count ? starts[line] : text.length) - starts[line - 1]);
  tall.style.minWidth = `max(100%, ${Math.min(widest, 400) + digits + 6}ch)`;
  let current = 0;
  const rows = new Map();

  // How far down, in pixels of the full listing, the top edge of what is in sight is.
  function top() {
    const room = high - holder.clientHeight;
    return room <= 0 || full <= most ? holder.scrollTop : (holder.scrollTop / room) * (full - holder.clientHeight);
  }
  function show() {
    const begin = top(), first = Math.max(1, Math.floor(begin / rowHigh) - 4), last = Math.min(count, Math.ceil((begin + holder.clientHeight) / rowHigh) + 4);
    for (const [line, row] of rows) if (line < first || line > last) { row.remove(); rows.delete(line); }
    for (let line = first; line <= last; line++) {
      let row = rows.get(line);
      if (!row) {
        row = document.createElement("div");
        row.id = `line-${line}`;
        row.setAttribute("role", "option");
        row.dataset.at = line;
        row.setAttribute("aria-setsize", count);
        row.setAttribute("aria-posinset", line);
        const number = document.createElement("b");
        number.textContent = line;
        number.style.minWidth = `${digits + 3}ch`;
        row.append(number, lineText(line));
        number.dataset.mark = mark(line);
        if (found.has(line)) { row.classList.add("found"); row.title = found.get(line); }
        rows.set(line, row);
        tall.append(row);
      }
      row.style.top = `${holder.scrollTop + (line - 1) * rowHigh - begin}px`;
      row.classList.toggle("now", line === current);
      row.classList.toggle("through", inFinding(line));
      row.firstChild.style.borderLeftColor = within(line); // all lines of the operation that is shown
      row.setAttribute("aria-selected", line === current ? "true" : "false");
    }
    if (rows.has(current)) holder.setAttribute("aria-activedescendant", `line-${current}`);
    else holder.removeAttribute("aria-activedescendant");
  }
  function bring(line) {
    const want = (line - 0.5) * rowHigh, begin = top(), sight = holder.clientHeight;
    if (want < begin + 2 * rowHigh || want > begin + sight - 2 * rowHigh) {
      const next = Math.max(0, Math.min(want - sight / 2, full - sight)), room = high - sight;
      holder.scrollTop = full <= most ? next : (next / (full - sight)) * room;
    }
    show();
  }
  // A line that does not move is marked itself, and the picture shows where the next one leads.
  function go(line, by = "listing") {
    chosen = Math.max(1, Math.min(count, line));
    place.set(track.placeOfLine(chosen), by);
  }
  let chosen = 0;
  holder.addEventListener("scroll", show, { passive: true });
  tall.addEventListener("click", (event) => {
    const row = event.target.closest("[data-at]");
    if (row) go(Number(row.dataset.at));
  });
  holder.addEventListener("keydown", (event) => {
    const page = Math.max(1, Math.floor(holder.clientHeight / rowHigh) - 2);
    const steps = { ArrowDown: 1, ArrowUp: -1, PageDown: page, PageUp: -page, Home: -count, End: count };
    if (!(event.key in steps)) return;
    event.preventDefault();
    go((current || 1) + steps[event.key]);
  });
  new ResizeObserver(show).observe(holder);
  place.listen((state, by) => {
    current = (by === "listing" || by === "address") && chosen ? chosen : state.line || 1;
    bring(current);
  });
  return { go, count, shown: () => bring(current || 1), get current() { return current; }, lineText };
};
