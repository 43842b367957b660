// How the columns of the page become typed arrays again: base64, deflated, then sliced as the head says.
"use strict";
const steadyrest = {};

steadyrest.unpack = async function (head, base64) {
  const packed = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  const bytes = await new Response(stream).arrayBuffer();
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
