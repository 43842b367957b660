// The page of a program: its listing, what each word says, and a copy that is proved while it is changed. The server says all of it.
import { asJson, follow, picture } from "./page.js";
import { makeCopy } from "./program_copy.js";
import { makeListing, wordsOf } from "./program_listing.js";

const at = (id) => document.getElementById(id);
const about = at("program").dataset, WAIT = 300, MOST_ASKED = 100, MOST_TEXT = 200_000, MOST_PRINTED = 5_000;
const query = (more = {}) => new URLSearchParams({ job: about.job, key: about.key, ...more });
const tab = crypto.randomUUID();
const put = (element, ...parts) => { element.replaceChildren(...parts.filter((one) => one !== null)); return element; };
const made = (name, text, className) => {
  const element = document.createElement(name);
  if (text !== undefined) element.append(text);
  if (className) element.className = className;
  return element;
};
const button = (text, done) => {
  const element = made("button", text);
  element.type = "button";
  element.addEventListener("click", done);
  return element;
};
const wrong = (error) => made("pre", error.message);

// ---- the program itself
const root = new URL("..", import.meta.url).href;
const all = (await (await fetch(`${root}program/file?${query()}`)).text()).replace(/\r\n?/g, "\n");
const starts = [0];
for (let next = all.indexOf("\n"); next >= 0; next = all.indexOf("\n", next + 1)) starts.push(next + 1);
if (starts.length > 1 && starts.at(-1) === all.length) starts.pop();
const posted = (line) => all.slice(starts[line - 1], line < starts.length ? starts[line] - 1 : all.length).replace(/\n$/, "");
const copy = makeCopy(starts.length, posted);
let sections = [], findings = new Map();

const rangeText = (first, last) => (last < first ? "" : first === last ? `line ${first}` : `lines ${first} to ${last}`);
const tool = (one) => `T${one.tool}${one.tool_name ? ` ${one.tool_name}` : ""}`;
function title(one) {
  if (one.kind === "head") return "Head";
  if (one.kind === "end") return "End";
  if (one.kind === "tool change") return `Tool change: ${tool(one)}`;
  const turned = one.planes ? `indexed in ${one.planes} plane${one.planes > 1 ? "s" : ""}` : one.intent === "indexed" ? `indexed at ${one.angles.length === 1 ? `${one.angles[0]} degrees` : `${one.angles.length} angles`}` : one.intent;
  return `Operation ${one.operation}${one.name ? `: ${one.name}` : ""}, ${tool(one)}, ${turned}`;
}
const listing = makeListing(at("listing"), at("tall"), {
  size: copy.size,
  line: copy.line,
  headings: () => sections.map((one) => ({ before: copy.placeOf(one.first), below: one.kind === "tool change", text: [title(one), rangeText(one.first, one.last)].filter(Boolean).join(", ") })),
  signs: (from) => (findings.get(from) || []).map((one) => ({ kind: one.weight, text: `${one.weight}: ${one.sentence}`, title: one.sentence })),
  chosen,
  hovered,
  rested,
  opened: change,
});
listing.renew();

async function outline() {
  let found;
  try { found = await asJson(`program/outline?${query()}`); } catch (error) { put(at("parts"), made("li")).append(wrong(error)); return; }
  sections = found.sections;
  findings = Map.groupBy ? Map.groupBy(found.findings, (one) => one.line) : new Map(found.findings.map((one) => [one.line, found.findings.filter((each) => each.line === one.line)]));
  put(at("parts"), ...sections.map((one) => {
    const entry = made("li", undefined, one.kind === "tool change" ? "below" : "");
    const jump = button(title(one), () => { listing.go(copy.placeOf(Math.max(1, Math.min(one.first, starts.length)))); at("listing").focus(); });
    jump.append(" ", made("span", rangeText(one.first, one.last) || "says nothing", "small"));
    entry.append(jump);
    return entry;
  }));
  at("found").hidden = !found.findings.length;
  put(at("found-list"), ...found.findings.map((one) => {
    const entry = made("li");
    entry.append(button(`Line ${one.line}, ${one.weight}: ${one.sentence}`, () => { listing.go(copy.placeOf(one.line)); at("listing").focus(); }));
    return entry;
  }));
  listing.renew();
  mark();
}
// Which part the chosen line is in, in the list of parts.
function mark() {
  const from = listing.current ? copy.line(listing.current).from : 0;
  let here = -1;
  sections.forEach((one, index) => { if (from && one.first <= from && from <= one.last) here = index; });
  [...at("parts").querySelectorAll("button")].forEach((one, index) => { if (index === here) one.setAttribute("aria-current", "true"); else one.removeAttribute("aria-current"); });
}

// ---- what a word says
const explained = new Map();
const explanation = (from) => explained.get(from) || asked(from, from)[0];
// Lines of the program in one answer; each is known from now on, also while its answer is on the way.
function asked(first, last) {
  if (explained.size > 4000) explained.clear();
  const answer = asJson(`program/line?${query({ line: first, last })}`), lines = [];
  for (let from = first; from <= last; from++) {
    const one = answer.then((found) => found.lines[from - first]);
    one.catch(() => explained.delete(from));
    explained.set(from, one);
    lines.push(one);
  }
  return lines;
}
// What is in sight is asked for once the listing rests, so that a word says at once what it is.
function rested(first, last) {
  const wanted = [];
  for (let line = first; line <= last; line++) { const { from } = copy.line(line); if (from && !explained.has(from)) wanted.push(from); }
  if (wanted.length) asked(wanted[0], Math.min(wanted.at(-1), wanted[0] + MOST_ASKED - 1));
}
const shortFile = (file) => file.split(/[/\\]/).slice(-2).join("/");
function settingLine(one) {
  const entry = made("li");
  const value = JSON.stringify(one.value), where = one.line ? `${shortFile(one.origin)}:${one.line}` : one.origin.endsWith(".toml") ? shortFile(one.origin) : one.origin;
  entry.append(made("code", `${one.key} = ${value.length > 60 ? `${value.slice(0, 57)}...` : value}`), ` from ${where} `);
  const link = made("a", "change in Profile");
  link.href = `${about.profile}&key=${encodeURIComponent(one.key)}`;
  link.setAttribute("aria-label", `change ${one.key} in Profile`);
  entry.append(link);
  return entry;
}
const templateLine = (spot) => `template ${shortFile(spot.file)}${spot.line ? `, line ${spot.line}` : ""}`;
function fact(list, name, ...said) {
  const value = made("dd");
  value.append(...said);
  list.append(made("dt", name), value);
}
let shown = 0;
async function show(line, word, aloud) {
  const mine = ++shown, { text, from } = copy.line(line), box = at("explained");
  if (!from) {
    put(box, made("p", text.slice(0, 300) || "an empty line", "big"), made("p", `Line ${line} was put in by hand: nothing that was planned says it. What is proved of it stands with the copy.`));
    if (aloud) at("heard").textContent = `Line ${line}, changed by hand: ${text.slice(0, 300)}`;
    return;
  }
  let found;
  try { found = await explanation(from); } catch (error) { if (mine === shown) put(box, wrong(error)); return; }
  if (mine !== shown) return;
  const one = word >= 0 ? found.words[word] : undefined, parts = [];
  if (one) {
    parts.push(made("p", one.word.slice(0, 300), "big"), made("p", `${one.says}.`));
    const from_ = made("ul");
    if (one.template) from_.append(made("li", templateLine(one.template)));
    from_.append(...one.settings.map(settingLine));
    if (from_.childElementCount) parts.push(made("h3", "Where it comes from"), from_);
  }
  parts.push(made("h3", `Line ${line}`), made("code", text.slice(0, 300)));
  const facts = made("dl");
  if (found.operation) fact(facts, "for", `operation ${found.operation}${found.operation_name ? ` '${found.operation_name}'` : ""} (${found.intent})${found.move ? `, move ${found.move}` : ""}`);
  if (found.asked) fact(facts, "toolpath", found.asked);
  if (found.why) fact(facts, "why", found.why);
  if (found.template && !(one && one.template)) fact(facts, "written by", templateLine(found.template));
  for (const notice of found.notices) fact(facts, "notice", notice);
  for (const each of findings.get(from) || []) fact(facts, each.weight, each.sentence);
  parts.push(facts);
  if (found.why_settings.length) {
    const list = made("ul");
    list.append(...found.why_settings.map(settingLine));
    parts.push(made("h3", "What decides this line"), list);
  }
  if (!one && found.words.length) {
    const list = made("ul");
    list.append(...found.words.map((each) => { const entry = made("li"); entry.append(made("b", each.word.slice(0, 100)), ` ${each.says}`); return entry; }));
    parts.push(made("h3", "Its words"), list);
  }
  put(box, ...parts);
  box.dataset.line = line;
  box.dataset.word = word;
  const what = one ? `${one.word}: ${one.says}` : `${text.slice(0, 300)}: ${found.why}`;
  if (aloud) at("heard").textContent = `Line ${line}. ${what}. ${(findings.get(from) || []).map((each) => `${each.weight}: ${each.sentence}`).join(" ")}`;
}
let addressing;
function chosen(line, word) {
  show(line, word, true);
  const [first, last] = listing.range();
  at("marked").textContent = first === last ? `Line ${first}` : `Lines ${first} to ${last}`;
  at("change-lines").textContent = `Change a copy of ${rangeText(first, last)}`;
  at("done-said").textContent = "";
  mark();
  clearTimeout(addressing);
  const from = copy.line(line).from;
  addressing = setTimeout(() => history.replaceState(null, "", from ? `#line-${from}` : location.pathname + location.search), WAIT);
}
let waiting;
function hovered(line, word) {
  clearTimeout(waiting);
  waiting = setTimeout(() => { if (line) show(line, word, false); else if (listing.current) show(listing.current, listing.word, false); }, line ? 30 : 400);
}

// ---- find, copy, print
function find(text, back) {
  const size = copy.size(), number = /^\s*(?:line\s*)?(\d+)\s*$/i.exec(text);
  const said = (found) => { at("find-said").textContent = found; };
  if (number) {
    const line = Number(number[1]);
    if (line < 1 || line > size) return said(`there are ${size} lines`);
    said("");
    return listing.go(line);
  }
  const wanted = text.trim().toLowerCase(), begin = listing.current;
  if (!wanted) return said("");
  for (let step = 1; step <= size; step++) {
    const line = ((((begin - 1 + (back ? -step : step)) % size) + size) % size) + 1, has = copy.line(line).text.toLowerCase().indexOf(wanted);
    if (has >= 0) {
      const word = wordsOf(copy.line(line).text).findLastIndex((one) => one.at <= has);
      said(`line ${line}`);
      return listing.go(line, word);
    }
  }
  return said(`'${wanted}' is nowhere`);
}
at("find").addEventListener("submit", (event) => { event.preventDefault(); find(at("find-text").value, false); });
at("find-text").addEventListener("keydown", (event) => { if (event.key === "Enter" && event.shiftKey) { event.preventDefault(); find(at("find-text").value, true); } });

function markedText() {
  const [first, last] = listing.current ? listing.range() : [1, copy.size()], lines = [];
  for (let line = first; line <= last; line++) lines.push(copy.line(line).text);
  return { first, last, text: lines.join("\n") };
}
at("copy-lines").addEventListener("click", async () => {
  const { first, last, text } = markedText();
  try {
    await navigator.clipboard.writeText(`${text}\n`);
    at("done-said").textContent = `${rangeText(first, last)} copied`;
  } catch { at("done-said").textContent = "the browser does not let the page copy: download the program instead"; }
});
at("listing").addEventListener("copy", (event) => {
  if (!getSelection().isCollapsed) return;
  event.clipboardData.setData("text/plain", `${markedText().text}\n`);
  event.preventDefault();
});
at("print-lines").addEventListener("click", () => {
  const [begin, end] = listing.current ? listing.range() : [1, copy.size()];
  if (end - begin >= MOST_PRINTED) { at("done-said").textContent = `mark ${MOST_PRINTED.toLocaleString("en")} lines at most to print them`; return; }
  const sheet = at("print"), width = String(end).length, changed = copy.changes().length > 0;
  const parts = [made("h2", `${document.getElementById("program-name").textContent.trim()}, ${rangeText(begin, end)}${changed ? ", a copy changed by hand" : ""}`)];
  let block = [];
  const close = () => { if (block.length) parts.push(made("pre", block.join("\n"))); block = []; };
  const headings = sections.map((one) => [copy.placeOf(one.first), title(one)]);
  for (let line = begin; line <= end; line++) {
    for (const [before, text] of headings) if (before === line) { close(); parts.push(made("h2", text)); }
    block.push(`${String(line).padStart(width)}  ${copy.line(line).text}`);
  }
  close();
  put(sheet, ...parts);
  sheet.hidden = false;
  document.body.classList.add("printing");
  print();
});
addEventListener("afterprint", () => { document.body.classList.remove("printing"); at("print").hidden = true; at("print").replaceChildren(); });

// ---- a copy changed by hand
const others = new BroadcastChannel(`copy ${about.job}`);
let seen = "", keeping = false, unkept = false, forget = "", open = null, task = "", aborting = null, last = 0, typing;

function change() {
  if (!listing.current) listing.go(1);
  const { first, last: end, text } = markedText();
  if (text.length > MOST_TEXT) { at("done-said").textContent = `that is more than ${MOST_TEXT.toLocaleString("en")} characters: mark fewer lines`; return; }
  open = { first, last: end };
  at("change").hidden = at("editing").hidden = false;
  at("text").value = text;
  at("text").rows = Math.max(3, Math.min(12, end - first + 2));
  named();
  at("text").focus();
  at("change").scrollIntoView({ block: "nearest" });
}
const named = () => { at("text-name").textContent = `${open.last < open.first ? "Nothing is left here" : `${rangeText(open.first, open.last)} of the copy`.replace("line", "Line")}`; };
at("change-lines").addEventListener("click", change);
at("done").addEventListener("click", () => { open = null; at("editing").hidden = true; at("listing").focus(); });
at("text").addEventListener("input", () => {
  const text = at("text").value.replace(/\n$/, ""), lines = text === "" ? [] : text.split("\n");
  copy.replace(open.first, open.last, lines);
  open.last = open.first + lines.length - 1;
  named();
  changed();
  keep();
});
at("text").addEventListener("keydown", (event) => { if (event.key === "Escape") at("done").click(); });

// What is typed is kept beside the job at once; while one answer is on the way, the last state waits for it.
async function keep() {
  unkept = true;
  if (keeping) return;
  keeping = true;
  while (unkept) {
    unkept = false;
    try {
      kept(await asJson(`program/draft?${query()}`, { method: "POST", body: new URLSearchParams({ key: about.key, seen, changes: JSON.stringify(copy.changes()), forget }) }));
      forget = "";
      others.postMessage(seen);
      put(at("kept"));
    } catch (error) {
      put(at("kept"), made("p", "The last change was not kept."), wrong(error));
      await load().catch(() => {});
    }
  }
  keeping = false;
}
function kept(found) {
  seen = found.digest;
  at("left-box").hidden = !found.left.length;
  if (found.left.length) at("change").hidden = false;
  put(at("left"), ...found.left.map((words) => made("li", words)));
}
// What is kept, such as by another window, or before the page was ended.
async function load() {
  const found = await asJson(`program/draft?${query()}`);
  if (found.digest === seen) return;
  kept(found);
  unkept = false;
  copy.set(found.changes);
  closed();
  changed();
}
function changed() {
  listing.renew();
  at("saved").textContent = "";
  at("save").disabled = true;
  const any = copy.changes().length > 0;
  at("changes-box").hidden = !any;
  at("change").hidden = !any && !open && !about.copied && at("left-box").hidden;
  at("judged").classList.add("waiting");
  clearTimeout(typing);
  aborting?.abort();
  if (task) asJson(`task/${task}/cancel`, { method: "POST" }).catch(() => {});
  task = "";
  const mine = ++last;
  typing = setTimeout(() => judge(mine), WAIT);
}
async function judge(mine) {
  const box = at("judged");
  box.hidden = false;
  if (!copy.changes().length) { box.className = "good"; put(box, made("p", "The copy is the program, as it was proved.")); put(at("changes")); return; }
  aborting = new AbortController();
  let found;
  try {
    put(box, made("p", "Proving ..."));
    found = await asJson(`program/prove?${query()}`, { method: "POST", body: new URLSearchParams({ key: about.key, tab, changes: JSON.stringify(copy.changes()) }), signal: aborting.signal });
    if (found.task && mine === last) {
      task = found.task;
      const state = await follow(task, (now) => { if (mine === last) put(box, made("p", `Proving ... ${now.total ? `${Math.floor((100 * now.done) / now.total)} %` : now.stage || ""}`)); });
      if (state.status !== "done") throw new Error(state.text || state.error?.error?.wrong || state.status);
      found = state.result;
      task = "";
    }
  } catch (error) {
    if (mine === last && error.name !== "AbortError") { box.className = "bad"; put(box, wrong(error)); }
    return;
  }
  if (mine === last) said(found);
}
function beside(shown) {
  if (!shown.asked) return [made("p", shown.why_not, "small")];
  const sides = made("div", undefined, "sides");
  for (const [sign, name, place, svg] of [["○", "Asked for", shown.asked_place, shown.asked], ["✕", "In the copy", shown.found_place, shown.found]]) {
    const figure = made("figure"), words = made("figcaption");
    words.append(made("b", name), place ? `: ${sign} ${place}` : "");
    figure.append(words, picture(svg));
    sides.append(figure);
  }
  return [sides, made("p", `Both at one scale: ${shown.name}. Dashed is asked for, solid the copy, dotted a rapid.${shown.apart ? ` ${shown.apart} apart.` : ""}`, "small")];
}
function said(found) {
  const box = at("judged"), good = found.outcome === "run" || found.outcome === "look";
  box.className = good ? "good" : "bad";
  const parts = [];
  const first = made("p");
  first.append(made("b", found.outcome ? found.outcome.toUpperCase() : "NOT READ"), good ? " The copy is proved." : " The copy must not run.");
  parts.push(first);
  if (found.sentence) {
    const where = found.line ? `line ${found.line}: ` : "";
    const line = made("p", `${where}${found.sentence}${found.words ? `; ${found.words}` : ""}.`, "difference");
    parts.push(line);
    if (found.cause) parts.push(made("p", `${found.outcome ? "Likely: " : ""}${found.cause}`, "small"));
    if (found.beside) parts.push(...beside(found.beside));
    if (found.line) parts.push(button(`Show line ${found.line}`, () => { listing.go(found.line); at("listing").focus(); }));
  }
  const others = found.findings.filter((one) => one.name !== "proof");
  if (others.length) {
    const list = made("ul", undefined, "plain");
    list.append(...others.map((one) => made("li", `${one.weight}: ${one.text}`)));
    parts.push(list);
  }
  put(box, ...parts);
  at("save").disabled = !good;
  put(at("changes"), ...found.changes.map((one, index) => {
    const entry = made("li");
    entry.append(made("b", one.lines.length ? `From line ${one.at}: ` : `Before line ${one.at}: `), made("span", one.words));
    for (const [name, lines] of [["del", one.was], ["ins", one.lines]]) for (const line of lines.slice(0, 5)) entry.append(made(name, line.slice(0, 300)));
    const more = Math.max(one.was.length, one.lines.length) - 5;
    if (more > 0) entry.append(made("p", `and ${more} more`, "small"));
    const undo = button("Undo", () => { closed(); copy.undo(index); changed(); keep(); });
    undo.setAttribute("aria-label", `Undo the change from line ${one.at}`);
    entry.append(undo);
    return entry;
  }));
}
const closed = () => { open = null; at("editing").hidden = true; };
at("undo-all").addEventListener("click", () => { closed(); copy.set([]); changed(); keep(); });
at("forget").addEventListener("click", () => { forget = "yes"; keep(); });
at("save").addEventListener("click", async () => {
  at("save").disabled = true;
  try {
    const answer = await asJson(`program/save?${query()}`, { method: "POST", body: new URLSearchParams({ key: about.key, tab, changes: JSON.stringify(copy.changes()), replace: at("replace").checked ? "yes" : "" }) });
    put(at("saved"), `Saved as ${answer.saved}. The program itself is as it was.`);
    at("replace").checked = false;
    at("replace-box").hidden = true;
  } catch (error) {
    if (error.data?.error?.kind === "OutputError") at("replace-box").hidden = false;
    put(at("saved"), wrong(error));
    at("save").disabled = false;
  }
});
at("open-copy")?.addEventListener("click", async () => {
  try { copy.set((await asJson(`program/copy?${query()}`)).changes); } catch (error) { at("judged").hidden = false; put(at("judged"), wrong(error)); return; }
  closed();
  changed();
  keep();
});
others.addEventListener("message", ({ data }) => { if (data !== seen && !keeping) load(); });
function linked() {
  if (/^#line-\d+$/.test(location.hash)) listing.go(copy.placeOf(Math.max(1, Math.min(starts.length, Number(location.hash.slice(6))))));
}
addEventListener("hashchange", linked);
linked();
await load();
await outline();
at("program").dataset.ready = "yes";
