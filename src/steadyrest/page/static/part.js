import { follow } from "./page.js";

// Of a tool and of the stock only the sizes of the shape that is chosen are shown; the others are neither shown nor sent.
function fit(fields, shape) {
  for (const one of fields.querySelectorAll("[data-shapes]")) {
    const fits = one.dataset.shapes.split(" ").includes(shape);
    one.hidden = !fits;
    for (const control of one.querySelectorAll("input, select")) control.disabled = !fits;
  }
}
for (const tool of document.querySelectorAll(".tool")) {
  const now = () => fit(tool, tool.querySelector("input[type=radio]:checked")?.value || "");
  tool.addEventListener("change", now);
  now();
}
const shape = document.getElementById("stock-shape"), sizes = document.querySelector("[data-of=stock-shape]");
if (shape) {
  const now = () => fit(sizes, shape.value);
  shape.addEventListener("change", now);
  now();
}

// Drawings and figures follow what is typed: the page made of it, nothing kept, gives them. What was typed stays where a file is written anew.
const said = document.getElementById("said"), unkept = document.getElementById("unkept");
let asking = null, waits = 0;

async function draw() {
  asking?.abort();
  asking = new AbortController();
  try {
    const typed = new FormData(said);
    typed.set("do", "show");
    const answer = await fetch(said.action, { method: "POST", body: typed, signal: asking.signal });
    const made = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const old of document.querySelectorAll("[data-drawn]")) {
      const fresh = made.querySelector(`[data-drawn="${old.dataset.drawn}"]`);
      if (fresh) old.replaceWith(document.adoptNode(fresh));
    }
  } catch { /* the next letter asks again, or the page has been ended */ }
}
said?.addEventListener("input", () => {
  unkept.hidden = false;
  clearTimeout(waits);
  waits = setTimeout(draw, 300);
});
said?.addEventListener("submit", () => { unkept.hidden = true; });  // buttons of other cards send the same form
addEventListener("beforeunload", (event) => { if (unkept && !unkept.hidden) event.preventDefault(); });

const changed = document.getElementById("see-changed");
if (said) changed.addEventListener("click", async (event) => {
  if (unkept.hidden) return;
  event.preventDefault();
  const href = changed.href, text = await (await fetch(href)).text(), task = new DOMParser().parseFromString(text, "text/html").querySelector("[data-task]");
  if (task) await follow(task.dataset.task, () => {});
  said.append(Object.assign(document.createElement("input"), { type: "hidden", name: "do", value: "show" }));
  said.action = href;
  said.requestSubmit();
});
// A link to what is missing opens what is folded round it.
function unfold() {
  const place = document.getElementById(location.hash.slice(1));
  for (let each = place; each; each = each.parentElement) if (each.tagName === "DETAILS") each.open = true;
  const inside = place?.closest("section")?.querySelector("details");
  if (inside && place.tagName === "H2") inside.open = true;
}
addEventListener("hashchange", unfold);
unfold();
