// Puts the page together once it is there: one place in the program, and everything that shows it.
"use strict";

steadyrest.start = async function () {
  const byId = (id) => document.getElementById(id);
  const facts = JSON.parse(byId("facts").textContent), alone = !byId("columns").dataset.from; // or in a page around this one
  const columns = await steadyrest.unpack(facts.columns, "columns");
  const track = steadyrest.makeTrack(facts, columns), place = steadyrest.makePlace(track), colours = steadyrest.makeColours(facts);
  const found = new Map(facts.findings), through = new Map(facts.findings.map(([line, , first, last]) => [line, [first, last]]));
  // Lines that findings name, numbered as they come in the program: the same number in space, on the slider, in the listing and in the list.
  const named = [...found.keys()].sort((a, b) => a - b).map((line) => [line, found.get(line), "◆", "finding"]), counts = {};
  let markedAt = -1;
  facts.marked = [...facts.passed, ...named].map(([line, sentence, sign, what]) => {
    const lines = (what === "finding" && through.get(line)) || [line, line], number = (counts[what] = (counts[what] || 0) + 1);
    const place = track.placeOfLine(line), crowded = what !== "finding" && track.minutes[place] - markedAt < 0.03 * track.whole;
    if (what !== "finding" && !crowded) markedAt = track.minutes[place];
    return { line, number, sign, sentence, name: `${what[0].toUpperCase()}${what.slice(1)} ${number}`, short: crowded ? sign : `${sign}${number}`, place, lines,
      way: [Math.max(track.search(track.line, lines[0]) - 1, 0), track.placeOfLine(lines[1])] };
  });
  // The finding whose lines the program is in, if it goes on over several: lit in all views.
  facts.foundAt = (line) => facts.marked.find(({ lines: [first, last] }) => last > first && first <= line && line <= last);
  const inFinding = (line) => facts.marked.some(({ lines: [first, last] }) => last > first && first <= line && line <= last);
  const markOf = new Map();
  for (const one of facts.marked) markOf.set(one.line, `${markOf.get(one.line) || ""}${one.sign}${one.number}`);
  const listing = steadyrest.makeListing(byId("lines"), byId("tall"), steadyrest.listingOf(facts.listing, columns), found, track, place, {
    mark: (line) => markOf.get(line) || "",
    inFinding,
    within: (line) => (track.operation[track.placeOfLine(line)] === place.state.operation ? colours.ofOperation(place.state.operation) : ""),
  });
  const space = byId("space"), flatHolder = byId("flat"), hint = byId("hint");

  let picture = null;
  try {
    picture = steadyrest.makeSpace(space, byId("over"), facts, columns, track, colours, place);
  } catch (trouble) {
    console.warn(`The 3D picture cannot be drawn: ${trouble.message}`);
  }
  const flat = steadyrest.makeFlat(flatHolder, byId("map"), facts, columns, track, colours, place);
  const charts = steadyrest.makeCharts(byId("charts"), byId("charts-table").querySelector("table"), facts, track, colours, place);

  let there;
  const libraryIsThere = new Promise((done) => { there = done; });

  // --- views
  let viewed = "";
  const unseen = facts.field ? "The part is drawn as it is seen from around its axis and from its ends: what is cut behind an overhang shows as its path alone." : "";
  const axesDrawn = `Dashed: the axes of the rotaries as they stand, with an arrow for what a positive command turns. ${unseen}`, [carries, leans] = [true, false].map((part) => facts.lines.some((one) => one.part === part));
  const turns = leans ? (carries ? "the part turns, and the head leans the tool" : "the head leans the tool over the part") : "the part turns under the tool";
  const hints = {
    part: `Seen from the part: the part stays still and the tool goes around it.${facts.chain ? ` ${axesDrawn}` : ""}`,
    machine: `As you see it in front of the machine: ${turns}.${facts.chain ? ` ${axesDrawn}` : ""}`,
    flat: facts.axis === "Z" ? "Seen from above." : "The surface as seen from outside: text must read the right way round here.",
  };
  function view(name) {
    const flatNow = name === "flat";
    viewed = name;
    flatHolder.hidden = !flatNow;
    space.hidden = byId("over").hidden = flatNow;
    byId("faces").hidden = flatNow;
    hint.hidden = flatNow;
    hint.textContent = hints[name];
    if (facts.chuck) {
      const chuck = document.createElement("span");
      chuck.textContent = `${facts.chuck.label[0].toUpperCase()}${facts.chuck.label.slice(1)}.`;
      chuck.title = "Chuck, jaws and table are drawn plain: nobody says how large they are, or how far below the table lies.";
      hint.append(" ", chuck);
    }
    byId("show-through").closest("label").hidden = flatNow;
    if (flatNow) flat.redraw();
    else picture.show("view", name);
  }
  for (const input of document.querySelectorAll("input[name=view]")) input.addEventListener("change", () => input.checked && view(input.value));
  if (facts.chain) document.querySelector("input[name=view][value=part]").checked = true; // upright, whatever the last angles are
  if (!picture) {
    for (const input of document.querySelectorAll("input[name=view]")) { input.disabled = input.value !== "flat"; input.checked = input.value === "flat"; }
    byId("thinned").prepend("This browser cannot draw in 3D (no WebGL 2): the surface is shown unrolled. ");
  }
  for (const key of ["part", "cut", "rapid", "through"]) {
    byId(`show-${key}`).addEventListener("change", (event) => {
      if (picture) picture.show(key, event.target.checked);
      flat.show(key, event.target.checked);
    });
  }
  for (const button of document.querySelectorAll("[data-face]")) button.addEventListener("click", () => picture.face(button.dataset.face));

  // --- going through the program
  const scrub = byId("scrub"), play = byId("play"), clock = byId("clock"), steps = Number(scrub.max);
  const stretch = byId("stretch"), onSlider = (share) => `calc(0.5rem + ${share.toFixed(5)} * (100% - 1rem))`;
  const said = (minutes) => `${Math.floor(minutes)}:${String(Math.floor((minutes * 60) % 60)).padStart(2, "0")}`;
  place.listen((state, by) => {
    if (by !== "scrub") scrub.value = track.whole ? Math.round((steps * state.minutes) / track.whole) : 0;
    scrub.setAttribute("aria-valuetext", `${said(state.minutes)} of ${said(track.whole)}, line ${state.line}`);
    clock.textContent = `${said(state.minutes)} of ${said(track.whole)}`;
    const [from, to] = track.stretchOf(state.operation).map((k) => (track.whole ? track.minutes[k] / track.whole : 0));
    stretch.style.left = onSlider(from);
    stretch.style.width = `calc(${(to - from).toFixed(5)} * (100% - 1rem))`;
  });
  // Findings that go on over several lines, along the slider; the one that the program is in is lit here as in every view.
  for (const one of facts.marked.filter(({ lines: [first, last] }) => last > first)) {
    const bar = document.createElement("div"), [from, to] = one.way.map((k) => (track.whole ? track.minutes[k] / track.whole : 0));
    bar.className = "through";
    bar.title = `Finding ${one.number}, lines ${one.lines.join(" to ")}`;
    bar.style.left = onSlider(from);
    bar.style.width = `calc(${(to - from).toFixed(5)} * (100% - 1rem))`;
    byId("stretch").parentElement.append(bar);
    place.listen((state) => bar.classList.toggle("now", facts.foundAt(listing.current || state.line) === one));
  }
  scrub.addEventListener("input", () => place.set(track.placeAt((scrub.value / steps) * track.whole), "scrub"));
  for (const one of facts.marked) {
    const mark = document.createElement("button");
    mark.type = "button";
    mark.textContent = one.short;
    mark.title = mark.ariaLabel = `${one.name}, line ${one.line}: ${one.sentence}`;
    mark.classList.toggle("passed", one.sign !== "◆");
    mark.style.left = onSlider(track.whole ? track.minutes[one.place] / track.whole : 0);
    mark.addEventListener("click", () => listing.go(one.line));
    byId("marks").append(mark);
    one.marks = [mark];
  }
  byId("marks").hidden = facts.marked.length === 0;
  for (const link of document.querySelectorAll("#findings [data-line]")) {
    const one = facts.marked.find(({ line, sign }) => sign === "◆" && line === Number(link.dataset.line));
    if (!one) continue;
    link.append(` ◆${one.number}`);
    one.marks.push(link.closest("li"));
  }
  place.listen(() => {
    for (const one of facts.marked) for (const each of one.marks) each.classList.toggle("now", one.line === listing.current);
  });
  let playing = false, last = 0;
  function tick(now) {
    if (!playing) return;
    const passed = Math.min((now - last) / 60000, 0.005) * Number(byId("speed").value);
    last = now;
    const next = place.state.minutes + passed;
    place.set(next >= track.whole ? track.count - 1 : Math.max(track.placeAt(next), place.place), "play");
    if (next >= track.whole) stop(); else requestAnimationFrame(tick);
  }
  function stop() { playing = false; play.textContent = "Play"; play.setAttribute("aria-pressed", "false"); }
  play.addEventListener("click", () => {
    if (playing) { stop(); return; }
    if (place.place >= track.count - 1) place.set(0, "play");
    playing = true;
    play.textContent = "Pause";
    play.setAttribute("aria-pressed", "true");
    last = performance.now();
    requestAnimationFrame(tick);
  });
  byId("to-start").addEventListener("click", () => place.set(0, "step"));
  // From line to line that moves.
  byId("forth").addEventListener("click", () => place.set(track.placeOfLine(place.place === 0 ? track.line[0] : place.state.line + 1), "step"));
  byId("back").addEventListener("click", () => {
    const first = track.search(track.line, place.state.line);
    place.set(first > 0 ? first - 1 : 0, "step");
  });

  // --- figures of the place
  const readout = byId("readout"), cells = {};
  const names = ["line", "operation", "tool", ...facts.axes.filter(Boolean), ...facts.rotaries.map((one) => one.letter), "tip", "move"];
  for (const name of names) {
    const group = document.createElement("div"), term = document.createElement("dt"), value = document.createElement("dd");
    term.textContent = { tip: `tip, ${facts.units}/min`, line: "line", operation: "operation", tool: "tool", move: "move" }[name] || name;
    group.append(term, value);
    readout.append(group);
    cells[name] = value;
  }
  const places = facts.units === "inch" ? 4 : 3;
  const fixed = (value, digits) => (Number.isFinite(value) ? value.toFixed(digits) : "unknown");
  place.listen((state) => {
    cells.line.textContent = listing.current || state.line;
    cells.operation.textContent = state.operation;
    cells.tool.textContent = state.tool || "none";
    facts.axes.forEach((name, k) => { if (name) cells[name].textContent = fixed(state.work[k], places); });
    if (!state.known) cells.Z.textContent = "clear";
    facts.rotaries.forEach((one, at) => { cells[one.letter].textContent = `${fixed(state.words[at], 3)}°`; });
    cells.tip.textContent = Number.isFinite(state.tip) ? state.tip.toFixed(facts.units === "inch" ? 2 : 0) : "unknown";
    cells.move.textContent = state.rapid ? "rapid" : "at feed";
  });

  // --- operations
  const legend = byId("legend"), buttons = [];
  const entry = (kind, words) => {
    return [colours.swatch(kind), words];
  };
  for (const one of facts.operations) {
    const item = document.createElement("li"), button = document.createElement("button");
    button.type = "button";
    button.append(...entry(colours.kindOf(one.number), `${one.number}  ${one.name}`));
    button.title = one.line ? `Go to line ${one.line}` : "";
    button.addEventListener("click", () => one.line && listing.go(one.line, "legend"));
    item.append(button);
    legend.append(item);
    buttons.push(button);
  }
  if (facts.field) {
    const item = document.createElement("li"), words = document.createElement("span");
    words.append(...entry(0, "not cut"));
    item.append(words);
    legend.append(item);
  }
  place.listen((state) => buttons.forEach((button, at) => button.classList.toggle("now", facts.operations[at].number === state.operation)));

  // --- lines named elsewhere, and a line asked for
  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-line]");
    if (!link) return;
    showLine(Number(link.dataset.line));
  });
  function showLine(line) {
    unfold(byId("listing"));
    listing.go(line);
    byId("listing").scrollIntoView({ block: "nearest" });
    byId("lines").focus({ preventScroll: true });
  }
  byId("goto").addEventListener("submit", (event) => {
    event.preventDefault();
    const line = parseInt(byId("goto-line").value.replace(/\D/g, ""), 10);
    if (Number.isFinite(line)) listing.go(line);
  });

  // --- what is folded: opened by its own line, by a link to anything in it, and by an address that ends in its name or in a line's
  function unfold(one) {
    for (let fold = one.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
  }
  function follow(hash) {
    const at = /^#at-(\d+)(?:-(part|machine|flat))?$/.exec(hash);
    if (at) {
      const chosen = at[2] && document.querySelector(`input[name=view][value=${at[2]}]:enabled`);
      if (chosen) { chosen.checked = true; view(at[2]); }
      listing.go(Number(at[1]), "address");
      return;
    }
    const line = /^#line-(\d+)$/.exec(hash), one = line ? null : hash.length > 1 && byId(hash.slice(1));
    if (line) showLine(Number(line[1]));
    if (!one) return;
    unfold(one);
    one.scrollIntoView();
  }
  byId("listing").addEventListener("toggle", () => byId("listing").open && listing.shown());
  byId("over-time").addEventListener("toggle", () => byId("over-time").open && libraryIsThere.then(charts.shown));
  byId("charts-table").addEventListener("toggle", () => byId("charts-table").open && charts.fill());
  for (const button of document.querySelectorAll("[data-charts]")) button.addEventListener("click", () => charts.act(button.dataset.charts));
  byId("print-charts").addEventListener("click", charts.print);
  addEventListener("hashchange", () => follow(location.hash));
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#']");
    if (link && link.hash === location.hash) follow(link.hash); // no change of the address, and it may have been folded since
  });
  steadyrest.themeSwitch(alone ? byId("theme") : null, () => {
    if (picture) picture.redraw();
    flat.redraw();
    charts.themed();
  });

  Object.assign(steadyrest, { facts, track, place, listing, picture, flat, charts });
  place.set(track.count - 1, "start");
  view(picture ? (facts.chain ? "part" : "machine") : "flat");
  follow(location.hash);
  // The address says the line and the view that are shown, once somebody has chosen them, so that it can be kept and sent.
  let saying = 0;
  function say() {
    clearTimeout(saying);
    saying = setTimeout(() => {
      try { history.replaceState(history.state, "", `#at-${listing.current || 1}-${viewed}`); } catch { /* where a page may not, the address stays */ }
    }, 300);
  }
  place.listen((_, by) => { if (by && !["start", "play", "address"].includes(by)) say(); });
  for (const input of document.querySelectorAll("input[name=view]")) input.addEventListener("change", say);
  if (picture) picture.draw();
  performance.mark("picture and listing are there");
  document.documentElement.dataset.ready = "yes";
  // Picture and listing are there before the charts' library is read.
  await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)));
  const script = document.createElement("script"), from = byId("charts-library").dataset.from;
  if (from) {
    script.src = from;
    await new Promise((done, failed) => { script.addEventListener("load", done); script.addEventListener("error", failed); document.head.append(script); });
  } else {
    script.textContent = await (await steadyrest.inflated("charts-library")).text();
    document.head.append(script);
  }
  there();
  performance.mark("all is there");
  if (picture) picture.refine();
  document.documentElement.dataset.charts = "yes";
};

steadyrest.start().catch((trouble) => {
  const said = document.createElement("p");
  said.className = "card";
  said.setAttribute("role", "alert");
  said.textContent = `The pictures of this page cannot be shown: ${trouble.message}. Use a browser of 2023 or later; verdict and figures are complete without them.`;
  document.querySelector("main").prepend(said);
  console.error(trouble);
});
