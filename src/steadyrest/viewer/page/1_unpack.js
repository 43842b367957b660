// How the columns of the page become typed arrays again: base64, deflated, then sliced as the head says.
"use strict";
const steadyrest = {};

// What a script element of that name holds, inflated; the element is taken out of the page.
steadyrest.inflated = function (id) {
  const element = document.getElementById(id), letters = atob(element.textContent), packed = new Uint8Array(letters.length);
  element.remove();
  for (let at = 0; at < packed.length; at++) packed[at] = letters.charCodeAt(at);
  return new Response(new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate")));
};

steadyrest.unpack = async function (head, id) {
  const bytes = await steadyrest.inflated(id).arrayBuffer();
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
