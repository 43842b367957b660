// What is ticked and filled in is kept at once, so that a reload, or the tablet at the machine, shows the same.
const form = document.getElementById("run-record"), kept = document.getElementById("kept");
let waiting = 0;

async function keep() {
  try {
    const answer = await fetch(form.action, { method: "POST", body: new FormData(form), headers: { accept: "application/json" } });
    const data = await answer.json();
    kept.textContent = answer.ok ? "kept" : data.text;
  } catch {
    kept.textContent = "not kept: the page has been ended";
  }
}
form.addEventListener("input", () => {
  clearTimeout(waiting);
  kept.textContent = "…";
  waiting = setTimeout(keep, 400);
});
