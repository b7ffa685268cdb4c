// Draws what the server says of the run; reckons nothing but the countdown, by the run's clock as the server tells it.
"use strict";

const STALE_S = 4; // without a word for so long, the page says so
const AGAIN_S = 8; // and begins anew
const HOLD_MS = 1000;
const HOLD_ASK_MS = 700;
const DEAF_MS = 2000; // a button that has just come up was not what the finger went for
const RING_EVERY_S = 20;
const LIVE_EVERY_MS = 300;

const at = (id) => document.getElementById(id);
let state = {view: null, link: {state: "absent", sentence: "Connecting…"}, silent_s: 0};
let lines = [];
let token = "";
let maySteer = false;
let source = null;
let lastId = sessionStorage.getItem("last");
let heardAt = performance.now();
let offsets = [];
let askedOf = null;
let askedAt = 0;
let ring = null;
let rangAt = 0;
let refused = false;

// The run's clock -----------------------------------------------------------------------------------------------------

/** Keep how far the run's clock is from ours. Of the last few words the one that was least delayed is right. */
function takeTime(message) {
  heardAt = performance.now();
  if (message.now_s === null) return;
  if (state.pace !== message.pace) offsets = [];
  offsets.push(message.now_s - (heardAt / 1000) * message.pace);
  offsets = offsets.slice(-5);
}

const runNow = () => Math.max(...offsets) + (performance.now() / 1000) * state.pace;
const unheardS = () => (performance.now() - heardAt) / 1000;

function countdown(left) {
  if (left < 10) return `${left.toFixed(1)} s`;
  const whole = Math.round(left);
  const two = (value) => String(value).padStart(2, "0");
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor(whole / 60) % 60;
  return hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
}

// Words from the server -----------------------------------------------------------------------------------------------

function listen() {
  if (source) source.close();
  offsets = [];
  heardAt = performance.now();
  source = new EventSource(lastId ? `/events?last=${encodeURIComponent(lastId)}` : "/events");
  source.addEventListener("snapshot", (event) => {
    const message = take(event);
    ({token, lines} = message);
    maySteer = message.may_steer;
    if (message.missed_after !== null) showMissed(lines.filter((line) => line.number > message.missed_after));
    draw();
  });
  source.addEventListener("change", (event) => {
    const message = take(event);
    if (message.line) lines.push(message.line);
    draw();
  });
  source.addEventListener("beat", (event) => {
    const message = JSON.parse(event.data);
    takeTime(message);
    Object.assign(state, message);
    drawLink();
    drawLive();
  });
  source.onerror = async () => {
    try {
      refused = (await fetch("/static/icon.svg")).status === 403;
    } catch {
      refused = false;
    }
    drawLink();
  };
}

function take(event) {
  refused = false;
  const message = JSON.parse(event.data);
  takeTime(message);
  state = {...state, ...message};
  lastId = event.lastEventId;
  sessionStorage.setItem("last", lastId);
  return message;
}

// Drawing -------------------------------------------------------------------------------------------------------------

function text(id, words) {
  const element = at(id);
  if (element.textContent !== words) element.textContent = words;
}

function list(id, items) {
  at(id).replaceChildren(...items.map((item) => {
    const element = document.createElement("li");
    if (typeof item === "string") {
      element.append(item);
      return element;
    }
    const time = document.createElement("time");
    time.textContent = item.at;
    element.append(time, item.text);
    return element;
  }));
}

/** Ask for the next live picture once the last has come, as long as there are any. */
function drawLive() {
  const image = at("live");
  if (!state.live) {
    at("seen-live").hidden = true;
    image.removeAttribute("src");
    return;
  }
  if (image.getAttribute("src")) return;
  image.onload = () => {
    at("seen-live").hidden = false;
    setTimeout(() => { if (state.live) image.src = `/live.jpg?at=${Date.now()}`; }, LIVE_EVERY_MS);
  };
  image.onerror = () => { at("seen-live").hidden = true; image.removeAttribute("src"); };
  image.src = `/live.jpg?at=${Date.now()}`;
}

function draw() {
  const view = state.view;
  drawLink();
  drawLive();
  list("lines", lines.slice(-30).reverse());
  at("steer").hidden = !maySteer;
  if (!view) {
    text("state", state.link.sentence);
    return;
  }
  at("simulated").hidden = !view.simulated;
  at("untried").hidden = !view.untried;
  text("title", view.title);
  text("state", view.over ?? view.state);
  text("open", view.open ? view.open.what : "");
  text("next", view.next);
  at("gone").hidden = !view.open;
  const rung = view.rung;
  const frames = rung && rung.frames > 1 ? `, ${rung.made} of ${rung.frames} frames made` : "";
  text("rung", rung ? `Rung ${rung.rung}${rung.of ? ` of ${rung.of}` : ""}: ${rung.label}${frames}` : "");
  const light = view.light;
  text("light", light ? `The light: ${light.stops} stop since the base (frame ${light.frame}, no filter)` : "");
  text("pending", view.pending ? `Still to be done: ${view.pending}` : "");
  drawSupplies(view.supplies);
  drawLast(view.last);
  drawAsk(view.ask);
  view.steering.forEach((button) => drawVerb(button, "verbs", tapped));
  view.stops.forEach((button) => drawVerb(button, "stops", stopped));
  tick();
}

function drawLink() {
  let words = state.link.sentence;
  let bad = state.link.state !== "attached";
  if (refused) {
    words = "This page’s server does not let this phone in any more. Open a new link from “tether page”.";
    bad = true;
  } else if (unheardS() >= STALE_S) {
    words = `No word from the page’s server for ${Math.floor(unheardS())} s. Trying again.`;
    bad = true;
  } else if (state.silent_s >= STALE_S) {
    words = `No word from the run for ${Math.floor(state.silent_s)} s.`;
    bad = true;
  } else if (!maySteer && !bad && token) {
    words = "Attached to the run. This phone watches only.";
  }
  text("link", words);
  at("link").classList.toggle("bad", bad);
  at("countdown").classList.toggle("unheard", bad);
}

function drawSupplies(supplies) {
  at("supplies").replaceChildren(...supplies.map((one) => {
    const element = document.createElement("li");
    element.textContent = one.text;
    element.classList.toggle("low", one.low);
    return element;
  }));
}

function drawLast(last) {
  at("last").hidden = !last;
  if (!last) return;
  text("last-what", last.what);
  list("last-says", last.says);
  list("last-differs", last.differs);
  picture("preview", last, "preview.jpg", "Preview");
  picture("histogram", last, "histogram.svg", "Raw histogram");
}

function picture(id, last, name, what) {
  const image = at(id);
  if (image.dataset.of === last.name) return;
  image.dataset.of = last.name;
  image.hidden = true;
  image.onload = () => { image.hidden = false; };
  image.alt = `${what} of frame ${last.frame}`;
  image.src = `/frames/${last.frame}/${name}?of=${encodeURIComponent(last.name)}`;
}

function drawAsk(ask) {
  at("ask").hidden = !ask;
  document.body.classList.toggle("asked", Boolean(ask));
  document.title = ask ? `YOUR TURN: ${ask.what}` : state.view.title;
  if (!ask) {
    askedOf = null;
    return;
  }
  text("ask-what", ask.what);
  text("ask-reason", ask.reason);
  drawAskPicture(ask);
  const done = at("ask-done");
  done.hidden = !maySteer;
  at("ask-how").hidden = !maySteer;
  done.of = ask.of;
  if (askedOf === ask.of) return;
  text("ask-done-what", ask.button);
  text("ask-said", "");
  askedOf = ask.of;
  askedAt = performance.now();
  rangAt = 0;
}

function drawAskPicture(ask) {
  const image = at("ask-picture");
  document.body.classList.toggle("pictured", Boolean(ask.picture));
  if (image.dataset.of === String(ask.picture)) return;
  image.dataset.of = String(ask.picture);
  image.hidden = true;
  if (!ask.picture) return;
  image.onload = () => { image.hidden = false; };
  image.alt = "What you are asked to look at";
  image.src = `/turn.jpg?of=${encodeURIComponent(ask.of)}`;
}

function showMissed(missed) {
  if (!missed.length) return;
  list("missed-lines", missed);
  at("missed").hidden = false;
}

function drawVerb(button, place, wire) {
  let element = at(place).querySelector(`[data-verb="${button.verb}"]`);
  if (!element) {
    element = document.createElement("button");
    element.type = "button";
    element.dataset.verb = button.verb;
    const name = document.createElement("b");
    name.textContent = button.verb;
    const does = document.createElement("small");
    does.textContent = button.does;
    element.append(name, does);
    wire(element);
    at(place).append(element);
  }
  element.disabled = !button.of_use;
  element.of = button.of;
}

function tick() {
  const open = state.view && state.view.open;
  if (open && offsets.length) {
    const now = runNow();
    text("countdown", countdown(Math.max(open.closes_s - now, 0)));
    at("gone").value = (now - open.opened_s) / Math.max(open.closes_s - open.opened_s, 1e-3);
  } else {
    text("countdown", "");
  }
}

// What the person does ------------------------------------------------------------------------------------------------

async function say(verb, of) {
  text("answer", `${verb} …`);
  try {
    const answer = await fetch("/say", {
      method: "POST",
      headers: {"Content-Type": "application/json", "X-Tether-Token": token},
      body: JSON.stringify({verb, of}),
    });
    text("answer", answer.ok ? (await answer.json()).sentence : await answer.text());
    return answer.ok;
  } catch {
    text("answer", `The page’s server does not answer; whether it heard “${verb}” is not known.`);
    return false;
  }
}

function tapped(element) {
  element.addEventListener("click", () => say(element.dataset.verb, element.of));
}

function stopped(element) {
  const act = (of) => say(element.dataset.verb, of);
  held(element, HOLD_MS, `How long “${element.dataset.verb}” was held`, act, () => text("answer", "Not held for a second; nothing was done."));
}

/** Have a button act when it was held for so long, by finger, mouse or key; how far that is shows. */
function held(element, ms, label, act, tooShort, deaf = () => false) {
  const bar = document.createElement("progress");
  bar.max = 1;
  bar.value = 0;
  bar.setAttribute("aria-label", label);
  element.append(bar);
  let since = null;
  let of = null;
  const grow = () => {
    if (since === null) return;
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

// Your turn: no stray touch answers for a filter.

async function answered(of) {
  text("ask-done-what", "Telling the run…");
  const heard = await say("answer", of);
  if (!heard) text("ask-said", at("answer").textContent);
  if (!heard && state.view.ask) text("ask-done-what", state.view.ask.button);
}

function tooEarly() {
  const early = performance.now() - askedAt < DEAF_MS;
  if (early) text("ask-said", "Too early: this has only just come up, so nothing was done.");
  return early;
}

held(at("ask-done"), HOLD_ASK_MS, "How long it was held", answered, () => text("ask-said", "Not held long enough; nothing was done."), tooEarly);

at("seen").addEventListener("click", () => { at("missed").hidden = true; });

at("ring").addEventListener("click", () => {
  if (ring) {
    ring.close();
    ring = null;
  } else {
    ring = new AudioContext();
    sound();
  }
  at("ring").setAttribute("aria-pressed", String(Boolean(ring)));
  text("ring", `Ring here when it is my turn: ${ring ? "on" : "off"}`);
});

function sound() {
  const tone = ring.createOscillator();
  const volume = ring.createGain();
  volume.gain.value = 0.4;
  tone.frequency.value = 880;
  tone.connect(volume).connect(ring.destination);
  tone.start();
  tone.stop(ring.currentTime + 0.4);
}

function ringWhenAsked() {
  if (!askedOf || (rangAt && performance.now() - rangAt < RING_EVERY_S * 1000)) return;
  rangAt = performance.now();
  if (ring) sound();
  if (navigator.vibrate && navigator.userActivation?.hasBeenActive) navigator.vibrate([300, 150, 300]);
}

// Going on ------------------------------------------------------------------------------------------------------------

async function begin() {
  if (location.hash) { // a new link was opened over this page
    const given = location.hash.slice(1);
    history.replaceState(null, "", "/");
    await fetch("/enter", {
      method: "POST", headers: {"Content-Type": "application/json"}, body: JSON.stringify({token: given}),
    });
  }
  listen();
  setInterval(tick, 100);
  setInterval(() => {
    drawLink();
    ringWhenAsked();
    if (unheardS() >= AGAIN_S) listenAgain();
  }, 500);
}

/** Begin anew without taking that for a word from the server. */
function listenAgain() {
  const since = heardAt;
  if (listenAgain.at && performance.now() - listenAgain.at < 3000) return;
  listenAgain.at = performance.now();
  listen();
  heardAt = since;
}

document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "visible" && unheardS() >= STALE_S) listenAgain();
});
window.addEventListener("hashchange", () => location.reload());
begin();
