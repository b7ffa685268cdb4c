// The look of all pages: as the phone has it, bright for sunlight, or dark red for eyes that are used to the night.
"use strict";

const LOOKS = {phone: "automatic", bright: "bright", ember: "dark red"};

function lookNow() {
  const kept = localStorage.getItem("look");
  return kept in LOOKS ? kept : "phone";
}

function showLook() {
  document.documentElement.dataset.look = lookNow();
  const button = document.getElementById("look");
  if (button) button.textContent = `Look: ${LOOKS[lookNow()]}`;
}

showLook();
document.addEventListener("DOMContentLoaded", () => {
  showLook();
  document.getElementById("look")?.addEventListener("click", () => {
    const names = Object.keys(LOOKS);
    localStorage.setItem("look", names[(names.indexOf(lookNow()) + 1) % names.length]);
    showLook();
  });
});
