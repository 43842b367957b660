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
