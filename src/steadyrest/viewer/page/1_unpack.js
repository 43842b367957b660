// How the columns of the page become typed arrays again: base64, deflated, then sliced as the head says.
"use strict";
const steadyrest = {};

// What a script element of that name holds, or what the page around this one gives for the address in its `data-from`, inflated; the
// element is taken out of the page. A report by itself has no such address, and asks nobody.
steadyrest.inflated = async function (id) {
  const element = document.getElementById(id), from = element.dataset.from;
  element.remove();
  let packed;
  if (from) packed = await steadyrest.streamFrom(from);
  else {
    const letters = atob(element.textContent), bytes = new Uint8Array(letters.length);
    for (let at = 0; at < bytes.length; at++) bytes[at] = letters.charCodeAt(at);
    packed = new Blob([bytes]).stream();
  }
  return new Response(packed.pipeThrough(new DecompressionStream("deflate")));
};

steadyrest.unpack = async function (head, id) {
  const bytes = await (await steadyrest.inflated(id)).arrayBuffer();
  const forms = { i4: Int32Array, i8: BigInt64Array, u1: Uint8Array, u2: Uint16Array, u4: Uint32Array, f4: Float32Array, f8: Float64Array };
  const columns = {};
  for (const [name, one] of Object.entries(head.arrays)) {
    const raw = new forms[one.form](bytes, one.at, one.count);
    if (one.rising) for (let k = 1; k < raw.length; k++) raw[k] += raw[k - 1]; // wraps round as it was made to
    if (one.step === 1) {
      columns[name] = raw;
    } else {
      const numbers = new Float64Array(raw.length);
      for (let k = 0; k < raw.length; k++) numbers[k] = one.step * raw[k];
      columns[name] = numbers;
    }
  }
  return columns;
};
