// A program dropped on the page, or chosen, is read at once.
const form = document.getElementById("by-example"), input = document.getElementById("example"), place = document.getElementById("drop");
if (form) {
  input.addEventListener("change", () => { if (input.files.length) form.requestSubmit(); });
  place.addEventListener("dragover", (event) => { event.preventDefault(); place.classList.add("over"); });
  place.addEventListener("dragleave", () => place.classList.remove("over"));
  place.addEventListener("drop", (event) => {
    event.preventDefault();
    place.classList.remove("over");
    if (!event.dataTransfer.files.length) return;
    input.files = event.dataTransfer.files;
    form.requestSubmit();
  });
}
