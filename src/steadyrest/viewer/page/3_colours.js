// Colours and hatching of operations, as the page's facts give them, and colours of the theme, as its style sheet does.
"use strict";

steadyrest.makeColours = function (facts) {
  const parse = (text) => [1, 3, 5].map((at) => parseInt(text.slice(at, at + 2), 16));
  const palette = facts.palette, skin = facts.skin;
  // Kinds of colour: 0 what no tool has cut, 1 to 7 the operations in turn, 8 what comes after the first difference.
  const kindOf = (number) => (number <= 0 ? 0 : number === facts.notCompared.number ? 8 : 1 + ((number - 1) % palette.length));
  const kinds = [skin, ...palette, facts.notCompared.colour];
  const ofOperation = (number) => kinds[kindOf(number)];
  // Hatching beside the colours, by kind of colour: whether a pixel of a tile, TILE wide and high, is dark.
  const TILE = 8, HATCHES = [() => false, (x, y) => (x + y) % 8 === 0, (x, y) => (x - y + 8) % 8 === 0, (x, y) => y % 4 === 0, (x, y) => x % 4 === 0,
    (x, y) => x % 4 < 2 && y % 4 < 2, (x, y) => (x + y) % 8 === 0 || (x - y + 8) % 8 === 0, (x, y) => x === 0 || y === 0, (x, y) => (x + y) % 2 === 0];
  const hatches = Uint8Array.from({ length: TILE * TILE * HATCHES.length }, (_, k) => (HATCHES[Math.floor(k / TILE / TILE)](k % TILE, Math.floor(k / TILE) % TILE) ? 1 : 0));
  // A canvas of one tile with the hatching of a kind alone.
  function hatched(kind) {
    const tile = document.createElement("canvas"), brush = tile.getContext("2d");
    tile.width = tile.height = TILE;
    const data = brush.createImageData(TILE, TILE);
    for (let k = 0; k < TILE * TILE; k++) data.data[4 * k + 3] = 90 * hatches[kind * TILE * TILE + k];
    brush.putImageData(data, 0, 0);
    return tile;
  }
  // The same on its colour, to stand beside a name.
  function swatch(kind) {
    const made = document.createElement("canvas"), brush = made.getContext("2d");
    made.width = made.height = 2 * TILE;
    brush.fillStyle = kinds[kind];
    brush.fillRect(0, 0, 2 * TILE, 2 * TILE);
    brush.fillStyle = brush.createPattern(hatched(kind), "repeat");
    brush.fillRect(0, 0, 2 * TILE, 2 * TILE);
    made.setAttribute("aria-hidden", "true");
    return made;
  }
  function themed() {
    const style = getComputedStyle(document.documentElement);
    const get = (name) => style.getPropertyValue(name).trim();
    return { ink: get("--ink"), soft: get("--soft"), line: get("--line"), card: get("--card"), stage: get("--stage"), act: get("--act"), bad: get("--bad") };
  }
  return { parse, kindOf, kinds, ofOperation, themed, TILE, hatches, hatched, swatch };
};

// The diamond of a finding, the disc of a pole, the triangle of a withdrawal, with its number.
steadyrest.mark = function (pen, x, y, size, number, theme, sign) {
  const corners = { "◆": [[0, -1], [1, 0], [0, 1], [-1, 0]], "▲": [[0, -1.2], [1.1, 0.8], [-1.1, 0.8]], "●": Array.from({ length: 24 }, (_, k) => [Math.cos(k * Math.PI / 12), Math.sin(k * Math.PI / 12)]) }[sign];
  pen.fillStyle = sign === "◆" ? theme.bad : theme.ink; pen.strokeStyle = theme.stage; pen.lineWidth = 2;
  pen.beginPath(); for (const [right, down] of corners) pen.lineTo(x + size * right, y + size * down); pen.closePath(); pen.fill(); pen.stroke();
  pen.font = "700 10px system-ui, sans-serif"; pen.textAlign = "center"; pen.textBaseline = "middle"; pen.fillStyle = theme.stage;
  pen.fillText(number, x, y + 0.5);
};

// The switch between what the system says, light, and dark; a page around this one may have its own. `changed` hears of both.
steadyrest.themeSwitch = function (button, changed) {
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", changed);
  new MutationObserver(changed).observe(document.documentElement, { attributeFilter: ["data-theme"] });
  if (!button) return;
  const choices = ["system", "light", "dark"];
  const words = { system: "Theme: as the system", light: "Theme: light", dark: "Theme: dark" };
  let chosen = "system";
  try { chosen = localStorage.getItem("steadyrest-theme") || "system"; } catch { /* a page from a file may have no storage */ }
  function apply() {
    if (chosen === "system") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = chosen;
    button.textContent = words[chosen] || words.system;
  }
  button.addEventListener("click", () => {
    chosen = choices[(choices.indexOf(chosen) + 1) % choices.length];
    try { localStorage.setItem("steadyrest-theme", chosen); } catch { /* then it holds for this time only */ }
    apply();
  });
  apply();
};
