// Files dropped anywhere on the first page begin a part. What is refused stays chosen, so that it can be sent again.
import { asJson } from "./page.js";

const form = document.getElementById("new"), input = document.getElementById("dropped"), place = document.getElementById("drop");
const refused = document.getElementById("refused"), copying = document.getElementById("copying"), begin = form.querySelector("button");
const megabytes = (bytes) => `${Math.max(1, Math.round(bytes / 2 ** 20))} MB`;

for (const name of ["dragover", "dragenter"]) addEventListener(name, (event) => { event.preventDefault(); place.classList.add("over"); });
for (const name of ["dragleave", "dragend"]) addEventListener(name, () => place.classList.remove("over"));
addEventListener("drop", (event) => {
  event.preventDefault();
  place.classList.remove("over");
  if (!event.dataTransfer.files.length) return;
  input.files = event.dataTransfer.files;
  form.requestSubmit();
});

function refuse(text) {
  refused.querySelector("pre").textContent = text;
  refused.hidden = false;
  refused.scrollIntoView({ block: "nearest" });
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const total = [...input.files].reduce((sum, one) => sum + one.size, 0), most = Number(form.dataset.most);
  if (total > most - 2 ** 16) {
    refuse(`${[...input.files].map((one) => one.name).join(", ")}: ${megabytes(total)} are more than can be dropped, ${megabytes(most)}\n  cure: put the file into this folder yourself, reload the page, and tick it in the list`);
    return;
  }
  refused.hidden = true;
  copying.textContent = total > 2 ** 20 ? `Copying ${megabytes(total)}` : "Copying";
  copying.hidden = !total;
  begin.disabled = true;
  try {
    location.assign((await asJson("new", { method: "POST", body: new FormData(form) })).to);
  } catch (error) {
    refuse(error.data ? error.message : "The files could not be read, or the page has been ended: a file that another program is still writing cannot be sent; drop it again once that is done.");
    document.getElementById("replace").hidden = !error.data?.replace;
  } finally {
    copying.hidden = true;
    begin.disabled = false;
  }
});
