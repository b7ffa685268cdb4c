// The picture before a run: rectangles for water and rock drawn over it by finger, mouse or keys; live view to focus by.
"use strict";

const LOOKS_AGAIN_MS = 250;
const LEAST_BOX = 0.04; // a smaller rectangle was a stray touch
const NEW_BOX = [0.3, 0.5, 0.7, 0.8];
const BOX_STEP = 0.02;
const PLACE_STEP = 0.05;
const CORNER_PX = 28; // so near to the corner is the corner
const WAYS = {ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1]};

let seen = null; // what the server says of the picture
let kind = null; // of which a rectangle is being set
let box = null; // that rectangle, as long as it is not kept
let drag = null; // what a finger is doing with it
let magnified = [0.5, 0.5]; // the place that live view is, or was last, magnified at
let over = false; // whether how the place was framed last lies over live view
let looking = false;

const within = (low, value, high) => Math.min(Math.max(value, low), high);
const regionOf = (what) => (seen.regions.find((one) => one.what === what) ?? {box: null}).box;
const isWhole = () => Boolean(seen) && (!seen.live || !seen.live.at);

function drawPicture(picture, busy) {
  seen = picture;
  const {live, frame} = picture;
  if (live && live.at) magnified = live.at;
  if (!isWhole()) kind = box = null;
  const laid = live && live.framed && over ? "; over it how this place was framed last" : "";
  text("picture-what", live ? live.what + laid : frame ? `A frame of the base: ${frame.exposure}` : `No frame is taken yet. The base of the plan: ${picture.base}`);
  at("stage").hidden = !live && !frame;
  at("picture").alt = live ? "What the camera sees now" : "The last frame of the base";
  showPicture();
  drawMarks();
  drawKinds();
  ["expose", "find", "from-camera", "live"].forEach((id) => { at(id).disabled = busy || !maySteer; });
  at("take").hidden = Boolean(live);
  at("room-part").hidden ||= !frame || Boolean(live);
  if (frame) drawRoom(frame);
  drawFocus(live);
}

/** Show the last frame, or live pictures, one after the other as they come. */
function showPicture() {
  if (!maySteer || tab !== "picture") return;
  if (seen.live) {
    if (!looking) lookAgain();
  } else if (seen.frame) {
    const source = `/evening/base.jpg?of=${encodeURIComponent(seen.frame.of)}`;
    if (at("picture").getAttribute("src") !== source) at("picture").src = source;
  }
  const laid = Boolean(seen.live && seen.live.framed && over);
  if (laid && !at("framed").getAttribute("src")) at("framed").src = "/evening/framed.jpg";
  at("framed").hidden = !laid;
}

function lookAgain() {
  looking = Boolean(seen && seen.live) && tab === "picture" && document.visibilityState === "visible";
  if (looking) at("picture").src = `/evening/live.jpg?at=${Date.now()}`;
}
["load", "error"].forEach((name) => at("picture").addEventListener(name, () => {
  if (looking) setTimeout(lookAgain, LOOKS_AGAIN_MS);
}));

// Headroom ------------------------------------------------------------------------------------------------------------

function drawRoom(frame) {
  text("room-number", frame.room);
  text("room-unit", frame.unit);
  text("room-hint", [frame.other, frame.hint].filter(Boolean).join(" "));
  const shown = [["Exposure", frame.exposure], ["Clipped", frame.clipped], ["Also", frame.more]].filter(([, said]) => said);
  const key = JSON.stringify(frame);
  if (at("room-more").dataset.of === key) return;
  at("room-more").dataset.of = key;
  at("room-more").replaceChildren(...shown.flatMap(([name, said]) => [make("dt", {}, name), make("dd", {}, said)]));
  drawBars();
}

async function drawBars() {
  if (!at("bars").open) return;
  const answer = await fetch("/evening/base.svg").catch(() => null);
  if (answer && answer.ok) at("bars-picture").replaceChildren(pictureOf(await answer.text()));
}
at("bars").addEventListener("toggle", drawBars);

// Rectangles ----------------------------------------------------------------------------------------------------------

function drawKinds() {
  at("marking").hidden = at("stage").hidden || !isWhole() || !maySteer;
  if (!at("kinds").children.length) {
    at("kinds").replaceChildren(...seen.kinds.map(({what, called, drawn}) => {
      const made = button(called, drawn);
      made.dataset.kind = what;
      made.addEventListener("click", () => pick(kind === what ? null : what));
      return made;
    }));
  }
  document.querySelectorAll("[data-kind]").forEach((one) => one.setAttribute("aria-pressed", String(one.dataset.kind === kind)));
  at("stage").classList.toggle("drawn-on", kind !== null);
  at("marking-now").hidden = kind === null;
  if (kind !== null) at("mark-remove").disabled = !regionOf(kind);
  at("mark-undo").disabled = !draft.plan.edits;
  text("marked", kind !== null && box ? whereIs(box) : seen.marked);
  const keys = kind !== null
    ? "Draw a rectangle. Drag it to move it, or its corner to size it. By keys: arrows, with shift for the corner; Enter keeps it, Escape leaves it as it was."
    : !seen.live ? "" : seen.live.at ? "Touch where it is to be looked at. By keys: arrows; Enter shows the whole."
      : "Touch where it is to be magnified. By keys: Enter.";
  text("stage-keys", keys);
  at("stage-keys").hidden = !keys;
}

function whereIs([left, top, right, bottom]) {
  const share = (one) => `${Math.round(100 * one)} %`;
  return `From ${share(left)} across and ${share(top)} down to ${share(right)} across and ${share(bottom)} down.`;
}

function drawMarks() {
  const shown = !isWhole() ? [] : seen.regions.filter((one) => !(box && one.what === kind));
  if (box && isWhole()) shown.push({what: kind, box});
  const key = JSON.stringify([shown, kind]);
  if (at("marks").dataset.of === key) return;
  at("marks").dataset.of = key;
  at("marks").replaceChildren(...shown.flatMap(markOf));
  document.querySelectorAll("#stage .tag").forEach((one) => one.remove());
  at("stage").append(...shown.map(tagOf));
}

function drawn(tag, kinds, places) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  element.setAttribute("class", kinds);
  Object.entries(places).forEach(([name, value]) => element.setAttribute(name, value));
  return element;
}

function markOf({what, box: [left, top, right, bottom]}) {
  const places = {x: left, y: top, width: right - left, height: bottom - top};
  const corner = {x1: right, y1: bottom, x2: right, y2: bottom};
  const handle = what === kind ? ["under", "over"].map((one) => drawn("line", `corner ${one}`, corner)) : [];
  return [drawn("rect", "under", places), drawn("rect", `over ${what}`, places), ...handle];
}

function tagOf({what, box: [left, top, right]}) {
  const tag = make("span", {className: "tag"}, seen.kinds.find((one) => one.what === what).called);
  if (left < 0.6) tag.style.left = `${100 * left}%`;
  else tag.style.right = `${100 * (1 - right)}%`;
  tag.style.top = `${100 * top}%`;
  return tag;
}

function pick(what) {
  kind = what;
  box = drag = null;
  drawMarks();
  drawKinds();
}

function setBox(found) {
  box = found;
  drawMarks();
  drawKinds();
}

async function keepBox(found) {
  const got = await wish({wish: "region", what: kind, box: found.map((one) => Number(one.toFixed(4)))}, "Marking…");
  if (box === found) setBox(null); // not another one that was begun meanwhile
  if (got && !got.refused && !got.said && seen.frame) say(`Marked. ${seen.frame.room} ${seen.frame.unit}.`);
}

function moved([left, top, right, bottom], across, down) {
  const [x, y] = [within(-left, across, 1 - right), within(-top, down, 1 - bottom)];
  return [left + x, top + y, right + x, bottom + y];
}

function sized([left, top, right, bottom], across, down) {
  return [left, top, within(left + LEAST_BOX, right + across, 1), within(top + LEAST_BOX, bottom + down, 1)];
}

/** Return where in the picture something happened, as shares of it. */
function placeOf(event) {
  const {left, top, width, height} = at("picture").getBoundingClientRect();
  return [within(0, (event.clientX - left) / width, 1), within(0, (event.clientY - top) / height, 1)];
}

function dragOf(event) {
  const [x, y] = placeOf(event);
  const of = regionOf(kind);
  const {width, height} = at("picture").getBoundingClientRect();
  if (of && Math.hypot((x - of[2]) * width, (y - of[3]) * height) < CORNER_PX) return {how: sized, of, x, y};
  if (of && x > of[0] && x < of[2] && y > of[1] && y < of[3]) return {how: moved, of, x, y};
  return {how: null, x, y};
}

at("stage").addEventListener("pointerdown", (event) => {
  if (kind === null || !maySteer) return;
  event.preventDefault();
  at("stage").setPointerCapture(event.pointerId);
  drag = dragOf(event);
});
at("stage").addEventListener("pointermove", (event) => {
  if (!drag) return;
  const [x, y] = placeOf(event);
  setBox(drag.how ? drag.how(drag.of, x - drag.x, y - drag.y)
    : [Math.min(x, drag.x), Math.min(y, drag.y), Math.max(x, drag.x), Math.max(y, drag.y)]);
});
at("stage").addEventListener("pointerup", () => {
  if (!drag) return;
  drag = null;
  if (box && box[2] - box[0] >= LEAST_BOX && box[3] - box[1] >= LEAST_BOX) keepBox(box);
  else setBox(null);
});
at("stage").addEventListener("pointercancel", () => {
  drag = null;
  setBox(null);
});
at("stage").addEventListener("click", (event) => {
  if (kind !== null || !seen.live || !maySteer) return;
  lookAt(placeInWhole(placeOf(event)));
});
at("stage").addEventListener("keydown", (event) => {
  const way = WAYS[event.key];
  if (kind !== null ? boxKey(event, way) : seen.live && liveKey(event, way)) event.preventDefault();
});

/** Move or size the rectangle that is set by a key; say whether it was one of these keys. */
function boxKey(event, way) {
  const now = box ?? regionOf(kind) ?? NEW_BOX;
  if (way) setBox((event.shiftKey ? sized : moved)(now, BOX_STEP * way[0], BOX_STEP * way[1]));
  else if (event.key === "Enter") keepBox(now);
  else if (event.key === "Escape") pick(null);
  else if (event.key === "Delete") removeBox();
  else return false;
  return true;
}

function removeBox() {
  return wish({wish: "region", what: kind, box: null}, "…");
}

at("mark-keep").addEventListener("click", async () => {
  if (box) await keepBox(box);
  pick(null);
});
at("mark-remove").addEventListener("click", removeBox);

// Live view -----------------------------------------------------------------------------------------------------------

function drawFocus(live) {
  at("focus-now").hidden = !live;
  text("live-verb", live ? "End live view" : "Live view");
  text("focus-caution", seen.caution);
  if (!live) return;
  at("sharpness").hidden = !live.share;
  text("sharpness-share", live.share);
  text("sharpness-numbers", live.share
    ? `Now ${live.now}, best ${live.best} (contrast of the finest detail, percent). Look at a rock: moving water counts too.`
    : "The picture is too dark to tell how sharp it is.");
  at("trace").replaceChildren(...(live.trace ? [pictureOf(live.trace)] : []));
  const nudged = !live.why_not_nudged;
  at("nudges").hidden = !nudged || !maySteer;
  text("not-nudged", live.why_not_nudged ?? "");
  at("closer").replaceChildren(...button(live.at ? "The whole" : "Closer", live.at ? "picture" : "magnify the middle").childNodes);
  at("closer").disabled = !maySteer;
  at("as-framed").hidden = !live.framed;
  at("as-framed").setAttribute("aria-pressed", String(over));
}

/** Return the place in the whole picture that was touched, where a part of it is shown magnified. */
function placeInWhole([x, y]) {
  const {at: middle, times} = seen.live;
  if (!middle) return [x, y];
  if (!times) return middle;
  return [within(0, middle[0] + (x - 0.5) / times, 1), within(0, middle[1] + (y - 0.5) / times, 1)];
}

function lookAt(place) {
  return wish({wish: "live", at: place}, "…");
}

function liveKey(event, way) {
  if (way && seen.live.at) lookAt([within(0, magnified[0] + PLACE_STEP * way[0], 1), within(0, magnified[1] + PLACE_STEP * way[1], 1)]);
  else if (event.key === "Enter") lookAt(seen.live.at ? null : magnified);
  else return false;
  return true;
}

function endLive() {
  if (seen && seen.live && maySteer) wish({wish: "halt"}, "");
}

at("live").addEventListener("click", () => (seen.live ? endLive() : wish({wish: "live", at: null}, "Live view begins…")));
at("closer").addEventListener("click", () => lookAt(seen.live.at ? null : magnified));
at("as-framed").addEventListener("click", () => {
  over = !over;
  drawPicture(seen, Boolean(draft.doing));
});
document.querySelectorAll("[data-steps]").forEach((one) => one.addEventListener("click", () => {
  wish({wish: "nudge", steps: Number(one.dataset.steps)}, "");
}));
// It heats the camera: it ends when nobody looks any more.
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "hidden") endLive(); });
