// Draws what there is to choose from; pictures come as the server makes them, all of the same part of each frame.
"use strict";

const cropPx = () => (wide() ? 172 : 128); // of the strip
const LEAST_GAP_STOPS = 1 / 3; // frames nearer than this stand one under another
const STEPS = [[0, "all"], [4, "1:4"], [2, "1:2"], [1, "1:1"]];
const VERDICTS = ["keep", "maybe", "no"];

let frames = [];
let token = "";
let mayChoose = false;
let place = {x: 0.5, y: 0.5};
let step = 1;
let pair = [0, 0]; // the two that are compared: the one looked at, and the one it is held against
let up = 0; // which of the two lies on top where there is room for one
let size = {width: 1, height: 1}; // of the frames [px]
let bounds = null; // between which the search for the right time still goes

const wide = () => matchMedia("(min-width: 60rem)").matches;
const looked = () => frames[pair[up]];

function crop(frame, px, of, from = place) {
  const size = Math.min(Math.round(px * Math.min(devicePixelRatio, 2)), 1600);
  return `/crops/${frame.frame}.jpg?x=${from.x.toFixed(4)}&y=${from.y.toFixed(4)}&w=${size}&h=${size}&step=${of}`;
}

// The part that is compared ---------------------------------------------------------------------------------------------

function drawPlaces(places) {
  at("places").replaceChildren(...Object.entries(places).map(([name, [x, y]]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = name;
    button.addEventListener("click", () => lookAt({x, y}));
    return button;
  }));
}

function drawOverview() {
  const middle = frames[Math.floor(frames.length / 2)];
  const image = at("overview-picture");
  image.alt = `All of frame ${middle.frame}`;
  image.onload = drawMark;
  image.src = crop(middle, Math.min(700, innerWidth), 0, {x: 0.5, y: 0.5});
}

function drawMark() {
  const mark = at("mark");
  mark.style.left = `${100 * place.x}%`;
  mark.style.top = `${100 * place.y}%`;
  const seen = viewPx() * Math.min(devicePixelRatio, 2) * (step || 1);
  mark.style.width = `max(1.2rem, ${100 * Math.min(seen / size.width, 1)}%)`;
  mark.style.height = `max(1.2rem, ${100 * Math.min(seen / size.height, 1)}%)`;
  mark.hidden = step === 0;
}

function lookAt(there) {
  place = {x: Math.min(Math.max(there.x, 0), 1), y: Math.min(Math.max(there.y, 0), 1)};
  drawMark();
  drawStripPictures();
  drawViews();
}

at("overview").addEventListener("click", (event) => {
  const box = at("overview-picture").getBoundingClientRect();
  if (event.detail === 0) return; // by a key: there is no place in that
  lookAt({x: (event.clientX - box.left) / box.width, y: (event.clientY - box.top) / box.height});
});

// The strip -------------------------------------------------------------------------------------------------------------

function columns() {
  const found = [];
  frames.forEach((frame, number) => {
    const last = found[found.length - 1];
    if (last && frame.at - last.at < LEAST_GAP_STOPS * 0.9) last.frames.push(number);
    else found.push({at: frame.at, frames: [number]});
  });
  return found;
}

/** Lay the frames along an axis on which a stop is as wide everywhere, so wide that no two lie on one another. */
function drawStrip() {
  const found = columns();
  const gaps = found.slice(1).map((column, number) => column.at - found[number].at);
  const [px, gapPx, rowPx] = [cropPx(), cropPx() + 10, cropPx() + 72];
  const stopPx = gaps.length ? gapPx / Math.min(...gaps) : 0;
  const axis = document.createElement("div");
  axis.id = "axis";
  const first = found[0].at;
  const span = found[found.length - 1].at - first;
  axis.style.width = `${span * stopPx + gapPx}px`;
  axis.style.height = `${Math.max(...found.map((one) => one.frames.length)) * rowPx + 12}px`;
  found.forEach((column) => column.frames.forEach((number, row) => {
    const button = document.createElement("button");
    button.type = "button";
    button.role = "option";
    button.dataset.number = number;
    button.style.left = `${(column.at - first) * stopPx}px`;
    button.style.width = `${px}px`;
    button.style.top = `${row * rowPx}px`;
    const image = document.createElement("img");
    image.alt = "";
    image.loading = "lazy";
    image.style.width = image.style.height = `${px - 4}px`;
    const name = document.createElement("b");
    name.textContent = frames[number].time;
    const mark = document.createElement("small");
    button.append(image, name, mark);
    button.addEventListener("click", () => pick(number));
    axis.append(button);
  }));
  for (let stop = Math.ceil(first); stop <= first + span; stop += 1) {
    const tick = document.createElement("i");
    tick.style.left = `${(stop - first) * stopPx + px / 2}px`;
    axis.append(tick);
  }
  at("strip").replaceChildren(axis);
  drawStripPictures();
}

const buttons = () => [...document.querySelectorAll("#axis > button")];

function drawStripPictures() {
  buttons().forEach((button) => {
    const frame = frames[button.dataset.number];
    button.querySelector("img").src = crop(frame, cropPx(), 1);
  });
  drawMarks();
}

function drawMarks() {
  buttons().forEach((button) => {
    const number = Number(button.dataset.number);
    const frame = frames[number];
    button.setAttribute("aria-selected", String(number === pair[up]));
    button.setAttribute("aria-label", `${frame.time}, frame ${frame.frame}, ${frame.choice || "no choice yet"}`);
    button.querySelector("small").textContent = [frame.choice, frame.note && "note"].filter(Boolean).join(", ") || `frame ${frame.frame}`;
  });
}

// Two frames ------------------------------------------------------------------------------------------------------------

function pick(number) {
  if (number !== pair[up]) pair = up === 0 ? [number, pair[0]] : [pair[1], number];
  bounds = null;
  show();
}

function show() {
  drawMarks();
  drawViews();
  drawThink();
  const chosen = document.querySelector(`#axis > button[data-number="${pair[up]}"]`);
  if (chosen) chosen.scrollIntoView({inline: "center", block: "nearest"});
}

const viewPx = () => Math.round(at("views").clientWidth / (wide() ? 2 : 1)) || 360;

function drawViews() {
  if (!frames.length) return;
  drawMark();
  text("how", wide() ? "Drag to move both." : "Drag to move both. Touch to flip.");
  const px = viewPx();
  at("views").classList.toggle("one", !wide());
  ["first", "second"].forEach((id, side) => {
    const frame = frames[pair[side]];
    const figure = at(id);
    figure.classList.toggle("up", side === up);
    const image = figure.querySelector("img");
    image.alt = `Frame ${frame.frame}, ${frame.time}`;
    const source = crop(frame, px, step);
    if (image.getAttribute("src") !== source) image.src = source;
    figure.querySelector("figcaption").textContent = `${frame.time}  ·  ${frame.settings}  ·  frame ${frame.frame}`;
  });
  at("zooms").querySelectorAll("button").forEach((button) => {
    button.setAttribute("aria-pressed", String(Number(button.dataset.step) === step));
  });
  at("faster").disabled = next(-1) === null;
  at("slower").disabled = next(1) === null;
  text("question", bounds ? question() : "");
}

/** Return the frame that lies on top of the half of times that is left, towards faster (-1) or slower (1). */
function next(way) {
  const [low, high] = bounds || [0, frames.length - 1];
  const here = pair[up];
  const from = way < 0 ? low : here + 1;
  const to = way < 0 ? here - 1 : high;
  if (from > to) return null;
  return bounds ? Math.floor((from + to) / 2) : here + way;
}

function question() {
  const [low, high] = bounds;
  return low === high ? `Only ${looked().time} is left.` : `Faster or slower than this? Between ${frames[low].time} and ${frames[high].time}.`;
}

function go(way) {
  const there = next(way);
  if (there === null) return;
  const here = pair[up];
  if (bounds) bounds = way < 0 ? [bounds[0], here - 1] : [here + 1, bounds[1]];
  pair = up === 0 ? [there, here] : [here, there];
  show();
}

function flip() {
  up = 1 - up;
  bounds = null;
  show();
}

async function thisOne() {
  const other = frames[pair[1 - up]];
  const chosen = looked();
  if (other !== chosen && other.choice !== "no") await choose(other, "maybe");
  await choose(chosen, "keep");
  text("question", `${chosen.time} is kept${other !== chosen ? `, ${other.time} as “maybe”` : ""}.`);
}

/** Have both pictures moved by finger or mouse; a touch that does not move flips. */
function movable(element) {
  let from = null;
  element.addEventListener("pointerdown", (event) => {
    from = {x: event.clientX, y: event.clientY, place};
    element.setPointerCapture(event.pointerId);
  });
  element.addEventListener("pointerup", (event) => {
    if (!from) return;
    const [dx, dy] = [event.clientX - from.x, event.clientY - from.y];
    const began = from.place;
    from = null;
    if (Math.hypot(dx, dy) < 8) {
      if (!wide()) flip();
      return;
    }
    if (step === 0) return;
    const scale = Math.min(devicePixelRatio, 2) * step;
    lookAt({x: began.x - dx * scale / size.width, y: began.y - dy * scale / size.height});
  });
  element.addEventListener("pointercancel", () => { from = null; });
}

// What the person thinks ------------------------------------------------------------------------------------------------

function drawThink() {
  const frame = looked();
  document.dispatchEvent(new CustomEvent("looked", {detail: frame}));
  text("of", `${frame.time}: ${frame.settings}, rung ${frame.rung}, frame ${frame.frame}`);
  words("says", frame.says);
  at("verdicts").querySelectorAll("button").forEach((button) => {
    button.setAttribute("aria-pressed", String(button.dataset.verdict === frame.choice));
    button.disabled = !mayChoose;
  });
  at("this-one").disabled = !mayChoose;
  const note = at("note");
  note.disabled = !mayChoose;
  if (document.activeElement !== note) note.value = frame.note;
}

async function choose(frame, choice, note = frame.note) {
  try {
    Object.assign(frame, await send("/choose", {frame: frame.frame, choice, note}));
    text("kept", `Frame ${frame.frame}: ${frame.choice || "no choice"}${frame.note ? ", with a note" : ""}; kept in the outing.`);
  } catch (error) {
    text("kept", whyNot(error, "The page’s server does not answer; nothing was kept."));
  }
  drawMarks();
  drawThink();
}

function wire() {
  at("zooms").replaceChildren(...STEPS.map(([of, name]) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.step = of;
    button.textContent = name;
    button.addEventListener("click", () => { step = of; drawViews(); });
    return button;
  }));
  at("verdicts").replaceChildren(...VERDICTS.map((verdict) => {
    const button = document.createElement("button");
    button.type = "button";
    button.dataset.verdict = verdict;
    button.textContent = verdict;
    button.addEventListener("click", () => choose(looked(), looked().choice === verdict ? null : verdict));
    return button;
  }));
  at("flip").addEventListener("click", flip);
  at("faster").addEventListener("click", () => go(-1));
  at("slower").addEventListener("click", () => go(1));
  at("this-one").addEventListener("click", thisOne);
  at("note").addEventListener("change", () => choose(looked(), looked().choice, at("note").value));
  movable(at("views"));
  addEventListener("resize", drawViews);
  addEventListener("keydown", (event) => {
    if (event.target.tagName === "INPUT" || event.ctrlKey || event.metaKey || event.altKey) return;
    const does = {ArrowLeft: () => go(-1), ArrowRight: () => go(1), f: flip, k: () => choose(looked(), "keep"), m: () => choose(looked(), "maybe"), n: () => choose(looked(), "no")}[event.key];
    if (!does || (!mayChoose && "kmn".includes(event.key))) return;
    event.preventDefault();
    does();
  });
}

// Frames from the server ------------------------------------------------------------------------------------------------

async function begin() {
  wire();
  let answer;
  try {
    answer = await fetch("/candidates");
  } catch {
    text("said", "The page’s server does not answer. Load the page again.");
    return;
  }
  if (!answer.ok) {
    text("said", answer.status === 404 ? "There is no outing yet. Come back when frames have been taken." : await answer.text());
    return;
  }
  const told = await answer.json();
  ({token, may_choose: mayChoose, candidates: frames} = told);
  text("title", told.title);
  at("simulated").hidden = !told.simulated;
  if (!frames.length) {
    text("said", "No frame of a rung is here yet. Load the page again when there is.");
    return;
  }
  text("said", `${frames.length} frames, by shutter time. ${mayChoose ? "" : "This phone may look only."}`);
  ["where", "strip-part", "pair", "think"].forEach((id) => { at(id).hidden = false; });
  const [water] = Object.values(told.places);
  if (water) place = {x: water[0], y: water[1]};
  size = {width: told.size[0], height: told.size[1]};
  const middle = Math.floor((frames.length - 1) / 2);
  pair = [middle, Math.min(middle + 1, frames.length - 1)];
  bounds = [0, frames.length - 1];
  drawPlaces(told.places);
  drawOverview();
  drawStrip();
  show();
}

begin();
