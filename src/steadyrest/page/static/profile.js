// Settings are found by their name or their sentence; those of the address are opened.
const filter = document.getElementById("filter"), own = document.getElementById("own"), form = document.getElementById("settings");

function fit() {
  const wanted = filter.value.trim().toLowerCase(), narrow = wanted || own.checked;
  for (const table of form.querySelectorAll(".table")) {
    let any = false;
    for (const one of table.querySelectorAll(".setting")) {
      const fits = (!wanted || `${one.dataset.key} ${one.textContent}`.toLowerCase().includes(wanted)) && (!own.checked || one.classList.contains("own"));
      one.hidden = !fits;
      any ||= fits;
    }
    table.hidden = !any;
    if (narrow) table.open = any;
  }
}
if (form) {
  filter.addEventListener("input", fit);
  own.addEventListener("change", fit);
  filter.addEventListener("keydown", (event) => { if (event.key === "Enter") event.preventDefault(); });
  for (const one of form.querySelectorAll(".tried-one, [aria-invalid]")) one.closest("details").open = true;
  const asked = form.dataset.key && form.querySelector(`[data-key="${CSS.escape(form.dataset.key)}"]`);
  if (asked) {
    asked.closest("details").open = true;
    asked.scrollIntoView({ block: "center" });
    asked.querySelector("input, select, textarea").focus({ preventScroll: true });
  }
}
