// What every page has: long work that tells how far it is.
const root = new URL("..", import.meta.url).href, ended = document.getElementById("ended");

export async function asJson(path, options = {}) {
  let answer, data;
  try {
    answer = await fetch(`${root}${path}`, { ...options, headers: { accept: "application/json", ...options.headers } });
    data = await answer.json();  // a later start of the page on the same port does not know this address, and answers in other words
  } catch (error) {
    if (error.name === "AbortError") throw error;
    ended.hidden = false;
    throw new Error("this page gets no answer any more");
  }
  ended.hidden = true;
  if (!answer.ok) throw Object.assign(new Error(data.text || data.error?.wrong || answer.statusText), { data });
  return data;
}

// A drawing that the server made.
export function picture(svg) {
  return document.importNode(new DOMParser().parseFromString(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" '), "image/svg+xml").documentElement, true);
}

// Follow a task until its end; `changed` hears each state. Ends with the last one.
export async function follow(task, changed) {
  for (;;) {
    let state;
    try { state = await asJson(`task/${encodeURIComponent(task)}`); } catch { state = null; }
    if (state) changed(state);
    if (state && state.status !== "running") return state;
    await new Promise((done) => setTimeout(done, document.hidden ? 2000 : 400));
  }
}

function show(section, state) {
  const bar = section.querySelector("progress"), put = (name, text) => { section.querySelector(`[data-${name}]`).textContent = text; };
  if (!bar || state.status !== "running") return;
  put("stage", state.stage);
  if (state.total > 0) {
    bar.max = state.total;
    bar.value = Math.min(state.done, state.total);
    put("share", `${Math.floor((100 * bar.value) / state.total)} %`);
    put("left", state.left ? `about ${state.left} left` : "");
  } else {
    bar.removeAttribute("value");
    put("share", state.done ? state.done.toLocaleString("en") : "");
    put("left", "");
  }
}

for (const section of document.querySelectorAll("[data-task]")) {
  if (!section.querySelector("progress")) continue;
  const cancel = section.querySelector("[data-cancel]");
  cancel.addEventListener("click", () => { cancel.disabled = true; asJson(`task/${encodeURIComponent(section.dataset.task)}/cancel`, { method: "POST" }); });
  follow(section.dataset.task, (state) => show(section, state)).then(() => location.reload());
}

// A file of the part that is written anew, by CAM or by hand, is told on every page of it.
const { job, read } = document.getElementById("main").dataset;
let first = read || "";  // what the page was made of, where it says so: a file may be written before the first look
async function look() {
  let state = null;
  try { state = document.hidden ? null : await asJson(`part/state?${new URLSearchParams({ job })}`); } catch { /* the page has been ended, or the job cannot be read now */ }
  if (state && !first) first = state.key;
  if (state && state.key !== first) {
    document.getElementById("see-changed").href = `${state.look}&was=${encodeURIComponent(first)}`;
    document.getElementById("changed-files").hidden = false;
  }
  setTimeout(look, 2500);
}
if (job) look();
