// Light or dark, as chosen last, before anything is seen.
"use strict";
(() => {
  const order = ["system", "light", "dark"], root = document.documentElement;
  let chosen = "system";
  try { chosen = localStorage.getItem("steadyrest-theme") || "system"; } catch { /* no storage: as the system has it */ }
  const names = { system: "as the system", light: "light", dark: "dark" };
  const put = () => {
    if (chosen === "system") delete root.dataset.theme; else root.dataset.theme = chosen;
    const button = document.getElementById("theme");
    if (button) button.textContent = `Theme: ${names[chosen]}`;
  };
  put();
  addEventListener("DOMContentLoaded", () => {
    put();
    document.getElementById("theme").addEventListener("click", () => {
      chosen = order[(order.indexOf(chosen) + 1) % 3];
      try { localStorage.setItem("steadyrest-theme", chosen); } catch { /* then it holds for this page only */ }
      put();
    });
  });
})();
