// Draws what there is to choose from; pictures come as the server makes them, all of the same part of each frame.
"use strict";

const cropPx = () => (wide() ? 172 : 104); // of the strip: three fit a phone
const LEAST_GAP_STOPS = 1 / 3; // frames nearer than this are at one place of the strip
const STEPS = [[0, "all"], [4, "1:4"], [2, "1:2"], [1, "1:1"]];
const VERDICTS = ["keep", "maybe", "no"];

let frames = [];
let columns = []; // places of the strip: where each is, which frames are there, and which of them is shown
let places = {}; // of water and rock
let token = "";
let mayChoose = false;
let place = {x: 0.5, y: 0.5};
let step = 1;
let pair = [0, 0]; // the two that are compared: the one looked at, and the one it is held against
let up = 0; // which of the two lies on top where there is room for one
let size = {width: 1, height: 1}; // of the frames [px]
let bounds = null; // between which columns the search for the right time still goes

const wide = () => matchMedia("(min-width: 60rem)").matches;
const looked = () => frames[pair[up]];

function crop(frame, px, of, from = place) {
  const size = Math.min(Math.round(px * Math.min(devicePixelRatio, 2)), 1600);
  return `/crops/${frame.frame}.jpg?x=${from.x.toFixed(4)}&y=${from.y.toFixed(4)}&w=${size}&h=${size}&step=${of}`;
}

// The part that is compared ---------------------------------------------------------------------------------------------

/** Fill a group with buttons: what each is named, and what it stands for. */
function drawGroup(kind, named, act) {
  at(`${kind}s`).replaceChildren(...named.map(([value, name]) => {
    const element = make("button", {type: "button", onclick: () => act(value)}, name);
    element.dataset[kind] = value;
    return element;
  }));
}

/** Mark the one of a group that is in force. */
function markOne(kind, isOne) {
  at(`${kind}s`).querySelectorAll("button").forEach((element) => {
    element.setAttribute("aria-pressed", String(isOne(element.dataset[kind])));
  });
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
  markOne("place", (name) => places[name][0] === place.x && places[name][1] === place.y);
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

function inColumns() {
  const found = [];
  frames.forEach((frame, number) => {
    const last = found[found.length - 1];
    if (last && frame.at - last.at < LEAST_GAP_STOPS * 0.9) last.frames.push(number);
    else found.push({at: frame.at, frames: [number]});
  });
  const best = (column) => ["keep", "maybe", null].map((choice) => column.frames.find((number) => frames[number].choice === choice));
  return found.map((column) => ({...column, shown: best(column).find((number) => number !== undefined) ?? column.frames[0]}));
}

const columnOf = (number) => columns.findIndex((column) => column.frames.includes(number));

/** Lay the frames along an axis on which a stop is as wide everywhere, so wide that no two lie on one another. */
function drawStrip() {
  const gaps = columns.slice(1).map((column, number) => column.at - columns[number].at);
  const [px, gapPx] = [cropPx(), cropPx() + 10];
  const stopPx = gaps.length ? gapPx / Math.min(...gaps) : 0;
  const axis = make("div", {id: "axis"});
  const first = columns[0].at;
  const span = columns[columns.length - 1].at - first;
  axis.style.width = `${span * stopPx + gapPx}px`;
  axis.style.height = `${px + 84}px`;
  columns.forEach((column) => {
    const element = button("", "");
    element.role = "option";
    element.style.left = `${(column.at - first) * stopPx}px`;
    element.style.width = `${px}px`;
    element.prepend(make("img", {alt: "", loading: "lazy", width: px - 4, height: px - 4}));
    element.addEventListener("click", () => touched(column));
    axis.append(element);
  });
  for (let stop = Math.ceil(first); stop <= first + span; stop += 1) {
    axis.append(make("i"));
    axis.lastChild.style.left = `${(stop - first) * stopPx + px / 2}px`;
  }
  at("strip").replaceChildren(axis);
  drawStripPictures();
}

const buttons = () => [...document.querySelectorAll("#axis > button")];

/** Draw what stands at each place of the strip: its part of the frame that is shown, and what is thought of that. */
function drawStripPictures() {
  buttons().forEach((element, number) => {
    const {frames: here, shown} = columns[number];
    const frame = frames[shown];
    const source = crop(frame, cropPx(), 1);
    const image = element.querySelector("img");
    if (image.getAttribute("src") !== source) image.src = source;
    element.querySelector("b").textContent = frame.time;
    const which = here.length > 1 && `${here.indexOf(shown) + 1} of ${here.length}`;
    const said = [which, frame.choice, frame.note && "note"].filter(Boolean).join(", ");
    element.querySelector("small").textContent = said || `frame ${frame.frame}`;
    element.setAttribute("aria-selected", String(shown === pair[up]));
    const named = [frame.time, `frame ${frame.frame}`, which, frame.choice || "no choice yet"];
    element.setAttribute("aria-label", named.filter(Boolean).join(", "));
  });
}

// Two frames ------------------------------------------------------------------------------------------------------------

/** Look at a place of the strip; where it is looked at, at the next of the frames there. */
function touched(column) {
  const here = column.frames.indexOf(pair[up]);
  bounds = null;
  lookAlsoAt(here < 0 ? column.shown : column.frames[(here + 1) % column.frames.length]);
}

/** Look at a frame; the one that was looked at is the other of the two. */
function lookAlsoAt(number) {
  if (number !== pair[up]) pair = up === 0 ? [number, pair[0]] : [pair[1], number];
  show();
}

function show() {
  const column = columnOf(pair[up]);
  columns[column].shown = pair[up];
  drawStripPictures();
  drawViews();
  drawThink();
  buttons()[column].scrollIntoView({inline: "center", block: "nearest"});
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
  markOne("zoom", (of) => Number(of) === step);
  drawWay("faster", next(-1));
  drawWay("slower", next(1));
  text("question", bounds ? question() : "");
}

function drawWay(id, there) {
  at(id).disabled = there === null;
  at(id).querySelector("small").textContent = there === null ? "none is left" : `shows ${timeAt(there)}`;
}

const timeAt = (column) => frames[columns[column].shown].time;

/** Return the middle of the times that are left towards faster (-1) or slower (1); once that was left, the next. */
function next(way) {
  const [low, high] = bounds || [0, columns.length - 1];
  const here = columnOf(pair[up]);
  const from = way < 0 ? low : here + 1;
  const to = way < 0 ? here - 1 : high;
  if (from > to) return null;
  return bounds ? Math.floor((from + to) / 2) : here + way;
}

function question() {
  const [low, high] = bounds;
  return low === high ? `Only ${looked().time} is left.` : `Faster or slower than this? Between ${timeAt(low)} and ${timeAt(high)}.`;
}

function go(way) {
  const there = next(way);
  if (there === null) return;
  const here = columnOf(pair[up]);
  if (bounds) bounds = way < 0 ? [bounds[0], here - 1] : [here + 1, bounds[1]];
  lookAlsoAt(columns[there].shown);
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
  markOne("verdict", (verdict) => verdict === frame.choice);
  [at("this-one"), ...at("verdicts").children].forEach((element) => { element.disabled = !mayChoose; });
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
  drawStripPictures();
  drawThink();
}

function wire() {
  drawGroup("zoom", STEPS, (of) => { step = of; drawViews(); });
  drawGroup("verdict", VERDICTS.map((verdict) => [verdict, verdict]), (verdict) => choose(looked(), looked().choice === verdict ? null : verdict));
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
  const silent = "The page’s server does not answer. Load the page again.";
  const told = await ask("/candidates").catch((error) => text("said", whyNot(error, silent)));
  if (!told) return;
  ({token, may_choose: mayChoose, candidates: frames} = told);
  text("title", told.title);
  at("simulated").hidden = !told.simulated;
  if (!frames.length) {
    text("said", "No frame of a rung is here yet. Load the page again when there is.");
    return;
  }
  text("said", `${frames.length} frames, by shutter time. ${mayChoose ? "" : "This phone may look only."}`);
  ["where", "strip-part", "pair", "think"].forEach((id) => { at(id).hidden = false; });
  ({places} = told);
  const [water] = Object.values(places);
  if (water) place = {x: water[0], y: water[1]};
  size = {width: told.size[0], height: told.size[1]};
  columns = inColumns();
  at("several").hidden = columns.length === frames.length;
  const middle = Math.floor((columns.length - 1) / 2);
  pair = [middle, Math.min(middle + 1, columns.length - 1)].map((column) => columns[column].shown);
  bounds = [0, columns.length - 1];
  drawGroup("place", Object.entries(places).map(([name]) => [name, name]), (name) => lookAt({x: places[name][0], y: places[name][1]}));
  drawOverview();
  drawStrip();
  show();
}

begin();
