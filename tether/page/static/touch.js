// What pages share: finding and writing parts of them, and buttons that act when they were held.
"use strict";

const at = (id) => document.getElementById(id);

function text(id, words) {
  const element = at(id);
  if (element.textContent !== words) element.textContent = words;
}

/** Return a new element that has what it is given, and that within. */
function make(tag, given = {}, ...within) {
  const made = Object.assign(document.createElement(tag), given);
  made.append(...within);
  return made;
}

/** Write a list, an item each: words, or several parts. */
const words = (id, items) => at(id).replaceChildren(...items.map((item) => make("li", {}, ...[item].flat())));

/** Keep what is styled told how high a part of the page is. */
function tellHeight(id) {
  const tell = () => document.documentElement.style.setProperty(`--${id}-height`, `${at(id).offsetHeight}px`);
  new ResizeObserver(tell).observe(at(id));
}

/** Ask the server for something. Throws what a refusal says. */
async function ask(path, how = {}) {
  const answer = await fetch(path, how);
  if (!answer.ok) throw new Error(await answer.text());
  return answer.json();
}

/** Have the server do something; it is done also where the phone is put away. Throws what a refusal says. */
function send(path, body) {
  const headers = {"Content-Type": "application/json", "X-Tether-Token": token};
  return ask(path, {method: "POST", headers, body: JSON.stringify(body), keepalive: true});
}

/** Return what a failed try says: a refusal by the server, or that it is silent. */
const whyNot = (error, silent = "The page’s server does not answer.") => (error instanceof TypeError ? silent : error.message);

/** Return a button with its name and what it does. */
const button = (name, does) => make("button", {type: "button"}, make("b", {}, name), make("small", {}, does));

/** Return a picture that came as text. */
const pictureOf = (svg) => document.importNode(new DOMParser().parseFromString(svg, "image/svg+xml").documentElement, true);

/** Have a button act when it was held for so long, by finger, mouse or key; how far that is shows. */
function held(element, ms, label, act, tooShort, deaf = () => false) {
  const bar = make("progress", {max: 1, value: 0});
  bar.setAttribute("aria-label", label);
  element.classList.add("held");
  element.append(bar);
  let since = null;
  let of = null;
  const grow = () => {
    if (since === null) return;
    if (element.closest("[inert]")) { // it was locked, or something came over it
      leave();
      return;
    }
    bar.value = (performance.now() - since) / ms;
    if (bar.value < 1) {
      requestAnimationFrame(grow);
      return;
    }
    since = null;
    if (navigator.vibrate) navigator.vibrate(60);
    act(of).finally(() => { bar.value = 0; });
  };
  const press = () => {
    if (since !== null || deaf()) return;
    since = performance.now();
    of = element.of;
    grow();
  };
  const leave = () => {
    if (since === null) return;
    since = null;
    bar.value = 0;
    tooShort();
  };
  element.addEventListener("pointerdown", press);
  ["pointerup", "pointercancel", "pointerleave", "blur", "keyup"].forEach((name) => element.addEventListener(name, leave));
  element.addEventListener("keydown", (event) => {
    if (event.key === " " || event.key === "Enter") {
      event.preventDefault();
      if (!event.repeat) press();
    }
  });
  element.addEventListener("contextmenu", (event) => event.preventDefault());
}
