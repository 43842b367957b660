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
  if (!waiting || event.target.dataset.keep) return;
  event.preventDefault();
  last.then(() => event.target.requestSubmit(event.submitter));
}, true);

function showFound(card, found) {
  const result = card.querySelector(".result"), table = result.querySelector("table"), doubt = result.querySelector(".doubt-said");
  result.hidden = !found;
  card.querySelector(".use-found").hidden = !found || !found.rows.length;
  if (!found) return;
  result.classList.toggle("bad-result", found.bad);
  result.querySelector(".found-text").textContent = found.text;
  doubt.textContent = found.doubt;
  doubt.hidden = !found.doubt;
  table.hidden = !found.rows.length;
  table.tBodies[0].replaceChildren(...found.rows.map((one) => {
    const row = document.createElement("tr"), head = document.createElement("th");
    head.scope = "row";
    head.textContent = one.axis;
    row.append(head, ...[`${one.value} ${one.units}`, `± ${one.within}`].map((text) => Object.assign(document.createElement("td"), { textContent: text })));
    return row;
  }));
}

async function keepTouches(touches) {
  const said = (kind, text) => { touches.querySelector(`.${kind}-said`).textContent = text; };
  try {
    const { digest, found } = await asJson(`${touches.dataset.keep}?${query}`, { method: "POST", body: new URLSearchParams(new FormData(touches)) });
    for (const one of document.querySelectorAll("input[name=seen], input[name=digest]")) if (one.type === "hidden") one.value = digest;
    said("wrong", "");
    said("kept", "Kept.");
    showFound(touches.closest(".touching-card"), found);
  } catch (error) {
    said("kept", "");
    said("wrong", error.message);
  }
}
for (const touches of document.querySelectorAll("[data-keep]")) {
  touches.addEventListener("change", () => then(() => keepTouches(touches)));
  touches.addEventListener("submit", (event) => { event.preventDefault(); then(() => keepTouches(touches)); });
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
