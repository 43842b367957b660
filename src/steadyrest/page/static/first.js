// Files dropped anywhere on the first page begin a part.
const form = document.getElementById("new"), input = document.getElementById("dropped"), place = document.getElementById("drop");

for (const name of ["dragover", "dragenter"]) addEventListener(name, (event) => { event.preventDefault(); place.classList.add("over"); });
for (const name of ["dragleave", "dragend"]) addEventListener(name, () => place.classList.remove("over"));
addEventListener("drop", (event) => {
  event.preventDefault();
  place.classList.remove("over");
  if (!event.dataTransfer.files.length) return;
  input.files = event.dataTransfer.files;
  form.requestSubmit();
});
