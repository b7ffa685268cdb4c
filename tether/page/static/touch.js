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

/** How far a finger goes before it is off a button that it is no longer on [px]. A button may move; a finger that keeps still holds it. */
const SLIPS_PX = 20;
/** A page that drew nothing for so long [ms] is given as long again to hear that the finger was lifted meanwhile. */
const STALLS_MS = 150;

/** Have a button act when it was held for so long, by finger, mouse or key; how far that is shows.
 *
 * How long that was is told by the times of the events: a page that was busy meanwhile takes nothing from it. One that always draws
 * slower than `STALLS_MS` acts when the finger is lifted. Another finger or key beside the first changes nothing.
 */
function held(element, ms, label, act, tooShort, deaf = () => false) {
  const bar = make("progress", {max: 1, value: 0});
  bar.setAttribute("aria-label", label);
  element.classList.add("held");
  element.append(bar);
  let press = null; // the event it began with
  let of = null;
  let drawn = 0;
  let fluent = 0; // since when it has been drawn without a stall
  const done = () => {
    press = null;
    if (navigator.vibrate) navigator.vibrate(60);
    act(of).finally(() => { bar.value = 0; });
  };
  const leave = () => {
    if (!press) return;
    press = null;
    bar.value = 0;
    tooShort();
  };
  const covered = () => {
    const over = document.querySelector("dialog[open]");
    return element.closest("[inert]") || (over && !over.contains(element));
  };
  const gone = () => element.disabled || covered() || !element.getClientRects().length;
  const same = (event) => press && event.pointerId === press.pointerId && event.key === press.key;
  const grow = () => {
    if (!press) return;
    if (gone()) {
      leave();
      return;
    }
    const now = performance.now();
    if (now - drawn > STALLS_MS) fluent = now;
    drawn = now;
    bar.value = (now - press.timeStamp) / ms;
    if (bar.value < 1 || now - fluent < STALLS_MS) requestAnimationFrame(grow);
    else done();
  };
  const begin = (event) => {
    if (press || gone() || event.button > 0 || deaf(event)) return;
    press = event;
    of = element.of;
    grow();
    try {
      element.setPointerCapture(event.pointerId);
    } catch { // a key, or a finger that is gone already
    }
  };
  const end = (event) => {
    if (!same(event)) return;
    if (!gone() && event.timeStamp - press.timeStamp >= ms) done();
    else leave();
  };
  const slip = (event) => {
    if (!same(event) || Math.hypot(event.clientX - press.clientX, event.clientY - press.clientY) < SLIPS_PX) return;
    const box = element.getBoundingClientRect();
    const on = event.clientX >= box.left && event.clientX <= box.right && event.clientY >= box.top && event.clientY <= box.bottom;
    if (!on) leave();
  };
  element.addEventListener("pointerdown", begin);
  element.addEventListener("pointermove", slip);
  ["pointerup", "keyup"].forEach((name) => element.addEventListener(name, end));
  element.addEventListener("pointercancel", (event) => { if (same(event)) leave(); });
  element.addEventListener("blur", leave);
  element.addEventListener("keydown", (event) => {
    if (event.key === " " || event.key === "Enter") {
      event.preventDefault();
      if (!event.repeat) begin(event);
    }
  });
  element.addEventListener("contextmenu", (event) => event.preventDefault());
}
