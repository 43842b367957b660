// Colours of operations, as the page's facts give them, and of the theme, as its style sheet does.
"use strict";

steadyrest.makeColours = function (facts) {
  const parse = (text) => [1, 3, 5].map((at) => parseInt(text.slice(at, at + 2), 16));
  const palette = facts.palette, skin = facts.skin;
  // Kinds of colour: 0 what no tool has cut, 1 to 7 the operations in turn, 8 what comes after the first difference.
  const kindOf = (number) => (number <= 0 ? 0 : number === facts.notCompared.number ? 8 : 1 + ((number - 1) % palette.length));
  const kinds = [skin, ...palette, facts.notCompared.colour];
  const ofOperation = (number) => kinds[kindOf(number)];
  function themed() {
    const style = getComputedStyle(document.documentElement);
    const get = (name) => style.getPropertyValue(name).trim();
    return { ink: get("--ink"), soft: get("--soft"), line: get("--line"), card: get("--card"), stage: get("--stage"), act: get("--act"), bad: get("--bad") };
  }
  return { parse, kindOf, kinds, ofOperation, themed, skin };
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
