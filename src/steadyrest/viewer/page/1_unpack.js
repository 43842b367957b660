// How the columns of the page become typed arrays again, and the listing text: base64, deflated, then as the head says.
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
  const bytes = new Uint8Array(await (await steadyrest.inflated(id)).arrayBuffer());
  const kinds = { i4: Int32Array, u1: Uint8Array, u2: Uint16Array, u4: Uint32Array };
  const columns = {};
  for (const [name, { form, at, count, step, order }] of Object.entries(head.arrays)) {
    const raw = new kinds[form](count), out = new Uint8Array(raw.buffer), size = raw.BYTES_PER_ELEMENT;
    // All lowest bytes, then all next ones.
    for (let byte = 0; byte < size; byte++) for (let k = 0; k < count; k++) out[k * size + byte] = bytes[at + byte * count + k];
    // Differences: 0, 1, 2, 3 are 0, -1, 1, -2. Their sums wrap round as they were made to.
    if (order) for (let k = 0; k < count; k++) raw[k] = (raw[k] >>> 1) ^ -(raw[k] & 1);
    for (let time = 0; time < order; time++) for (let k = 1; k < count; k++) raw[k] += raw[k - 1];
    columns[name] = step === 1 ? raw : Float64Array.from(raw, (value) => step * value);
  }
  return columns;
};

// The program's text, byte for byte: the form of each line, with the next number of its letter at each zero byte.
steadyrest.listingOf = function ({ length, written }, columns) {
  const { lines, forms } = columns, out = new Uint8Array(length), starts = [0];
  for (let k = 0; k < forms.length; k++) if (forms[k] === 10) starts.push(k + 1);
  starts.push(forms.length + 1);
  const taken = {};
  function number(letter) {
    const [most, least, point, zero] = written[letter], count = columns[`word_${letter}`][(taken[letter] = (taken[letter] ?? -1) + 1)];
    const digits = String(Math.abs(count)).padStart(most + 1, "0"), whole = digits.slice(0, digits.length - most), part = digits.slice(digits.length - most);
    let kept = part.length;
    while (kept > least && part[kept - 1] === "0") kept--;
    return (count < 0 ? "-" : "") + (whole === "0" && !zero && kept ? "" : whole) + (kept || point ? "." : "") + part.slice(0, kept);
  }
  let at = 0;
  lines.forEach((form, line) => {
    if (line > 0) out[at++] = 10;
    for (let k = starts[form]; k < starts[form + 1] - 1; k++) {
      if (forms[k] !== 0 || !written[String.fromCharCode(forms[k - 1])]) { out[at++] = forms[k]; continue; }
      for (const digit of number(String.fromCharCode(forms[k - 1]))) out[at++] = digit.charCodeAt(0);
    }
  });
  return out;
};
