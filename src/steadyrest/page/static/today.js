// Touches are kept as they are filled in, with what comes of them; the stock in the chuck is drawn as it is typed.
import { asJson, picture } from "./page.js";

const job = document.getElementById("main").dataset.job, query = new URLSearchParams({ job });
const at = (id) => document.getElementById(id);
let last = Promise.resolve(), waiting = 0;

// One change after the other: each is made on the job as the one before left it.
function then(work) {
  waiting += 1;
  last = last.then(work).finally(() => { waiting -= 1; });
  return last;
}
addEventListener("submit", (event) => {
  if (!waiting || event.target.id === "touches") return;
  event.preventDefault();
  last.then(() => event.target.requestSubmit(event.submitter));
}, true);

function showFound(found) {
  at("found").hidden = !found;
  at("remember").hidden = !found || !found.rows.length;
  if (!found) return;
  at("found").classList.toggle("bad-result", found.bad);
  at("found-text").textContent = found.text;
  at("found-doubt").textContent = found.doubt;
  at("found-doubt").hidden = !found.doubt;
  at("found-rows").hidden = !found.rows.length;
  at("found-rows").tBodies[0].replaceChildren(...found.rows.map((one) => {
    const row = document.createElement("tr"), head = document.createElement("th");
    head.scope = "row";
    head.textContent = one.axis;
    row.append(head, ...[`${one.value} ${one.units}`, `± ${one.within}`].map((text) => Object.assign(document.createElement("td"), { textContent: text })));
    return row;
  }));
}

const touches = at("touches");
async function keepTouches() {
  try {
    const { digest, found } = await asJson(`${touches.dataset.keep}?${query}`, { method: "POST", body: new URLSearchParams(new FormData(touches)) });
    for (const one of document.querySelectorAll("input[name=seen], input[name=digest]")) one.value = digest;
    at("touches-wrong").textContent = "";
    at("touches-kept").textContent = "Kept.";
    showFound(found);
  } catch (error) {
    at("touches-kept").textContent = "";
    at("touches-wrong").textContent = error.message;
  }
}
if (touches) {
  touches.addEventListener("change", () => then(keepTouches));
  touches.addEventListener("submit", (event) => { event.preventDefault(); then(keepTouches); });
}

const held = document.querySelector("[data-drawn]");
let asked = 0;
async function draw() {
  const mine = (asked += 1), said = new FormData(held);
  const told = await asJson(`${held.dataset.drawn}?${new URLSearchParams({ job, at: said.get("at"), length: said.get("length") })}`);
  if (mine !== asked) return;
  at("held-wrong").textContent = told.wrong;
  if (!told.svg) return;
  at("held-drawn").replaceChildren(picture(told.svg));
  at("held-lines").replaceChildren(...told.lines.map((line) => Object.assign(document.createElement("li"), { textContent: line })));
  for (const [end, , svg] of told.ends) held.querySelector(`[data-end="${end}"]`).replaceChildren(picture(svg));
}
if (held) held.addEventListener("input", () => draw().catch((error) => { at("held-wrong").textContent = error.message; }));

// What an address or a link leads to is opened where it is folded.
function open() {
  const details = location.hash.length > 1 && at(location.hash.slice(1))?.querySelector("details");
  if (details) details.open = true;
}
addEventListener("hashchange", open);
open();
