// Draws what the server says of the run; reckons nothing but the countdown, by the run's clock as the server tells it.
"use strict";

const STALE_S = 4; // without a word for so long, the page says so
const AGAIN_S = 8; // and begins anew
const HOLD_MS = 1000;
const HOLD_ASK_MS = 700;
const HOLD_UNLOCK_MS = 2000;
const DEAF_MS = 2000; // a button that has just come up was not what the finger went for
const RINGS_SOON = 2; // so often it rings soon again; then it has been heard, or nobody is near
const RING_SOON_S = 20;
const RING_LATER_S = 60;
const LONG_CHARS = 30;
const ACKNOWLEDGED_MS = 6000;
const LIVE_EVERY_MS = 300;
const AT_HAND = ["pause", "go on"];

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
let rings = 0;
let leavesAtOnce = new URLSearchParams(location.search).has("leaving"); // asked for on another page
let refused = false;
let linkSaidAt = 0;

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
    if (state.view) text("light", state.light);
  });
  source.onerror = async () => {
    refused = await fetch("/static/icon.svg").then((answer) => answer.status === 403, () => false);
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

/** Write what happened, each with its time of day. */
const drawLines = (id, happened) => words(id, happened.map((line) => [make("time", {}, line.at), line.text]));

/** Ask for the next live picture once the last has come, as long as there are any. */
function drawLive() {
  const image = at("live");
  if (!state.live || !maySteer) {
    at("seen-live").hidden = true;
    image.removeAttribute("src");
    return;
  }
  if (image.getAttribute("src")) return;
  image.onload = () => {
    at("seen-live").hidden = false;
    setTimeout(() => { if (state.live && maySteer) image.src = `/live.jpg?at=${Date.now()}`; }, LIVE_EVERY_MS);
  };
  image.onerror = () => { at("seen-live").hidden = true; image.removeAttribute("src"); };
  image.src = `/live.jpg?at=${Date.now()}`;
}

function draw() {
  const view = state.view;
  drawLink();
  drawLive();
  drawLines("lines", lines.slice(-30).reverse());
  at("steer").hidden = !maySteer || !view || Boolean(view.over);
  if (!view) {
    text("state", state.link.sentence);
    return;
  }
  at("simulated").hidden = !view.simulated;
  at("untried").hidden = !view.untried;
  drawAfter(view);
  text("title", view.title);
  document.dispatchEvent(new CustomEvent("told", {detail: view}));
  text("state", view.over ?? view.state);
  text("open", view.open ? view.open.what : "");
  text("next", view.next);
  at("gone").hidden = !view.open;
  drawRung(view.rung);
  text("light", state.light);
  text("times", state.times);
  text("pending", view.pending ? `Still to be done: ${view.pending}` : "");
  drawSupplies(view.supplies);
  drawLast(view.last);
  drawAsk(view.ask);
  drawAtHand(view);
  view.steering.forEach((word) => drawVerb(word, AT_HAND.includes(word.verb) ? "pause-here" : "verbs", tapped));
  view.stops.forEach((word, place) => drawVerb(word, place ? "stops" : "stop-here", stopped));
  drawRegions(view.regions);
  drawLocked();
  tick();
  keepAwake();
}

function drawRung(rung) {
  const frames = rung && rung.frames > 1 ? `, ${rung.made} of ${rung.frames} frames made` : "";
  text("rung", rung ? `Rung ${rung.rung}${rung.of ? ` of ${rung.of}` : ""}: ${rung.label}${frames}` : "");
}

function drawAtHand(view) {
  at("at-hand").hidden = !maySteer || Boolean(view.over);
  if (view.leaving) text("leaving-does", view.leaving.does);
  else at("leaving").close();
  if (leavesAtOnce && view.leaving && maySteer && !isLocked()) {
    leavesAtOnce = false;
    at("leaving").showModal();
  }
  drawOffer("back", view.back, view.back?.of);
}

/** Draw a button that is there while it is offered: what it is called, what it does, and what it is about. */
function drawOffer(id, offered, of) {
  at(id).hidden = !maySteer || !offered;
  at(id).of = of;
  if (!offered) return;
  text(`${id}-what`, offered.button);
  text(`${id}-does`, offered.does);
}

function drawAfter(view) {
  if (!at("after")) return;
  at("after").hidden = !view.over;
  at("resume").hidden = !view.may_resume || !maySteer;
  if (!view.over) text("resumed", "");
}

function notHeard() {
  if (refused) return "This page’s server does not let this phone in any more. Open a new link from “tether page”.";
  if (unheardS() >= STALE_S) return `No word from the page’s server for ${Math.floor(unheardS())} s. Trying again.`;
  return state.silent_s >= STALE_S ? `No word from the run for ${Math.floor(state.silent_s)} s.` : null;
}

/** Say how the page stands with the run; once all is well for a while, nothing. */
function drawLink() {
  const [trouble, attached] = [notHeard(), state.link.state === "attached"];
  const watches = attached && !maySteer && token ? " This phone watches only." : "";
  const said = trouble ?? state.link.sentence + watches;
  const bad = trouble !== null || !(attached || state.link.state === "over");
  if (at("link").textContent !== said) linkSaidAt = performance.now();
  text("link", said);
  const heard = performance.now() - linkSaidAt > ACKNOWLEDGED_MS;
  at("link").classList.toggle("done", heard && maySteer && attached && !bad);
  at("link").classList.toggle("bad", bad);
  at("countdown").classList.toggle("unheard", bad);
}

function drawSupplies(supplies) {
  words("supplies", supplies.map((one) => one.text));
  supplies.forEach((one, place) => at("supplies").children[place].classList.toggle("low", one.low));
}

function drawLast(last) {
  at("last").hidden = !last;
  if (!last) return;
  text("last-what", last.what);
  words("last-says", last.says);
  words("last-differs", last.differs);
  at("preview").alt = `Preview of frame ${last.frame}`;
  picture("preview", `/frames/${last.frame}/preview.jpg?of=${encodeURIComponent(last.name)}`);
}

/** Show a picture once it has come; null: there is none. */
function picture(id, source) {
  const image = at(id);
  if (image.dataset.of === String(source)) return;
  image.dataset.of = String(source);
  image.hidden = true;
  image.onload = () => { image.hidden = false; };
  if (source) image.src = source;
}

/** Water and rock as they were proposed: shown once there are any, and judged at any time. Nothing waits for it. */
function drawRegions(regions) {
  at("regions").hidden = !regions;
  if (!regions) return;
  text("regions-what", regions.what);
  picture("regions-picture", regions.picture && `/regions.jpg?of=${encodeURIComponent(regions.picture)}`);
  at("regions-verbs").hidden = !maySteer;
  regions.verbs.forEach((word) => drawVerb(word, "regions-verbs", tapped));
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
  at("ask-what").classList.toggle("long", ask.what.length > LONG_CHARS);
  text("ask-reason", ask.reason);
  text("ask-waiting", ask.waiting);
  const done = at("ask-done");
  done.hidden = !maySteer;
  done.of = ask.of;
  drawOffer("ask-no", ask.no, ask.of);
  at("ask-missing").hidden = !maySteer || !ask.missing;
  at("ask-missing").of = ask.of;
  if (askedOf === ask.of) return;
  text("ask-done-what", ask.button);
  text("ask-said", "");
  askedOf = ask.of;
  askedAt = performance.now();
  rangAt = 0;
  rings = 0;
}

function showMissed(missed) {
  if (!missed.length) return;
  drawLines("missed-lines", missed);
  at("missed").hidden = false;
}

function drawVerb(word, place, wire) {
  let element = at(place).querySelector(`[data-verb="${word.verb}"]`);
  if (!element) {
    element = button(word.verb, place === "stop-here" ? "press and hold" : word.does);
    element.dataset.verb = word.verb;
    wire(element);
    at(place).append(element);
  }
  element.hidden = !word.of_use;
  element.of = word.of;
}

function tick() {
  const open = state.view && state.view.open;
  if (open && offsets.length) {
    const now = runNow();
    const left = countdown(Math.max(open.closes_s - now, 0));
    text("countdown", left);
    text("then", state.view.then ? `In ${left}: ${state.view.then}` : "");
    at("gone").value = (now - open.opened_s) / Math.max(open.closes_s - open.opened_s, 1e-3);
  } else {
    text("countdown", "");
    text("then", "");
  }
  text("locked-countdown", at("countdown").textContent);
}

// What the person does ------------------------------------------------------------------------------------------------

/** Say a word to the run. What came of it stands at the button that was touched, and where all answers stand. */
async function say(verb, of, button = null) {
  told(`${verb} …`, button);
  try {
    told((await send("/say", {verb, of})).sentence, button);
    return true;
  } catch (error) {
    told(whyNot(error, `The page’s server does not answer; whether it heard “${verb}” is not known.`), button);
    return false;
  }
}

/** Tell what came of a touch, where all answers stand and at its button, for as long as it is of interest. */
function told(said, button = null) {
  text("answer", said);
  clearTimeout(told.forgets);
  told.forgets = setTimeout(() => text("answer", ""), ACKNOWLEDGED_MS);
  if (!button) return;
  button.dataset.said = said;
  clearTimeout(button.forgets);
  button.forgets = setTimeout(() => delete button.dataset.said, ACKNOWLEDGED_MS);
}

function tapped(element) {
  element.addEventListener("click", () => say(element.dataset.verb, element.of, element));
}

function stopped(element) {
  const act = (of) => say(element.dataset.verb, of, element);
  held(element, HOLD_MS, `How long “${element.dataset.verb}” was held`, act, () => told("Not held for a second; nothing was done.", element));
}

// Your turn: no stray touch answers for a filter.

async function answered(of) {
  text("ask-done-what", "Telling the run…");
  const heard = await say("answer", of);
  if (!heard) text("ask-said", at("answer").textContent);
  if (!heard && state.view.ask) text("ask-done-what", state.view.ask.button);
}

function tooEarly(event) {
  const early = event.timeStamp - askedAt < DEAF_MS;
  if (early) text("ask-said", "Too early: this has only just come up, so nothing was done.");
  return early;
}

const tooShort = () => text("ask-said", "Not held long enough; nothing was done.");
held(at("ask-done"), HOLD_ASK_MS, "How long it was held", answered, tooShort, tooEarly);
[["ask-no", "skip"], ["ask-missing", "not in the bag"]].forEach(([id, verb]) => {
  held(at(id), HOLD_ASK_MS, "How long it was held", async (of) => {
    const heard = await say(verb, of, at(id));
    if (!heard) text("ask-said", at("answer").textContent);
  }, tooShort, tooEarly);
});

held(at("back"), HOLD_ASK_MS, "How long it was held", (of) => say("take back", of, at("back")), () => told("Not held long enough; nothing was done.", at("back")));

// Over: what is left of a ladder is taken up right there.

async function resume() {
  text("resumed", "What is left of the ladder is taken up…");
  const said = await send("/evening/resume", {}).then((got) => (got.done ? "" : got.said), (error) => whyNot(error));
  text("resumed", said);
}

if (at("resume")) held(at("resume"), HOLD_MS, "How long it was held", resume, () => text("resumed", "Not held for a second; nothing was resumed."));

// Leaving, from anywhere, with a question of its own.

at("leave").addEventListener("click", () => {
  text("leaving-said", "");
  at("leaving").showModal();
});
at("stay").addEventListener("click", () => at("leaving").close());
held(at("leave-now"), HOLD_MS, "How long it was held", leaveNow, () => text("leaving-said", "Not held for a second; nothing was done."));

async function leaveNow() {
  const heard = await say(state.view.leaving.verb, null, at("leave"));
  text("leaving-said", at("answer").textContent);
  if (heard) at("leaving").close();
}

// A wet screen touches itself: while it is locked, all but one button is deaf.

const isLocked = () => sessionStorage.getItem("locked") === "yes";

function lock(on) {
  sessionStorage.setItem("locked", on ? "yes" : "no");
  if (on) at("leaving").close();
  text("locked-said", "");
  drawLocked();
}

function drawLocked() {
  const on = isLocked();
  document.querySelectorAll("header, main, #ask, #dock").forEach((part) => { part.inert = on; });
  at("locked").hidden = !on;
  const view = state.view;
  text("locked-state", view ? view.over ?? view.state : "");
  text("locked-ask", view && view.ask ? view.ask.what : "");
}

at("lock").addEventListener("click", () => lock(true));
held(at("unlock"), HOLD_UNLOCK_MS, "How long it was held", async () => lock(false), () => text("locked-said", "Not held for two seconds: still locked."));

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

/** How long after a ring it rings again [s]: less often once it has rung twice. */
const ringsAgainAfter = (times) => (times < RINGS_SOON ? RING_SOON_S : RING_LATER_S);

function ringWhenAsked() {
  if (!askedOf || (rangAt && performance.now() - rangAt < ringsAgainAfter(rings) * 1000)) return;
  rangAt = performance.now();
  rings += 1;
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
  if (leavesAtOnce) history.replaceState(null, "", "/");
  drawLocked();
  ["dock", "ask"].forEach(tellHeight);
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

// The phone's screen: a browser lets a page keep it on only where the connection is encrypted ---------------------------

let awake = null;
let asksToBeAwake = false;

async function keepAwake() {
  if (!window.isSecureContext || !navigator.wakeLock || asksToBeAwake) return;
  const wanted = Boolean(state.view && !state.view.over) && document.visibilityState === "visible";
  if (wanted === Boolean(awake && !awake.released)) return;
  asksToBeAwake = true;
  try {
    if (wanted) awake = await navigator.wakeLock.request("screen");
    else await awake.release();
  } catch { // a phone that saves its battery refuses; nothing is promised then
    awake = null;
  }
  asksToBeAwake = false;
  at("awake").hidden = !awake || awake.released;
}

document.addEventListener("visibilitychange", () => {
  keepAwake();
  if (document.visibilityState === "visible" && unheardS() >= STALE_S) listenAgain();
});
window.addEventListener("hashchange", () => location.reload());
begin();
