// Plans, a draft of one of them, and its beginning: draws what the server says, and passes on what the person wishes.
"use strict";

const POLL_MS = 1500;
const POLL_LIVE_MS = 400;
const HOLD_BEGIN_MS = 1000;
const HOLD_OFF_MS = 2000;
const OPEN_GROUPS = ["rungs", "filters"];
const PARTS = {
  plans: ["plans-part"],
  plan: ["with-part", "keys-part", "ladder-part"],
  picture: ["picture-part", "room-part", "focus-part"],
  begin: ["ladder-part", "pack-part", "care-part", "checks-part", "begin-part"],
  after: ["after-part"],
};

let token = "";
let maySteer = false;
let draft = {open: false, plan: null};
let tab = "plans";
let went = false; // whether the person went anywhere yet
let copies = null; // the key of the plan that is being copied
let opens = false; // whether a plan was opened that has not come yet
let goesOver = false; // whether a run was begun from here, and its page is to follow
const rows = new Map(); // keys of the plan, by name

// The server ----------------------------------------------------------------------------------------------------------

function say(words, bad = false) {
  text("said", words);
  at("said").classList.toggle("bad", bad);
}

/** Do something at the server; a refusal is said, and null comes back. */
async function tried(doing, act) {
  if (doing) say(doing);
  try {
    return await act();
  } catch (error) {
    say(whyNot(error), true);
    return null;
  }
}

/** Wish something of the draft, and draw how it stands then. */
async function wish(wished, doing = "…") {
  const got = await tried(doing, () => send("/evening/wish", wished));
  if (got) took(got);
  return got;
}

function took(got) {
  const news = got.doing !== draft.doing || got.answered !== draft.answered || got.said !== draft.said;
  draft = got;
  if (news) say(got.doing || got.said || "", Boolean(got.refused) && !got.doing);
  draw();
  if (opens && (got.plan || got.refused)) {
    opens = false;
    if (got.plan) show("plan");
  }
  if (goesOver && got.begun) location.href = "/";
  if (goesOver && got.refused) goesOver = false;
}

// Plans ---------------------------------------------------------------------------------------------------------------

async function readPlans() {
  const got = await tried("", () => ask("/evening/plans"));
  if (!got) return;
  ({token} = got);
  maySteer = got.may_steer;
  at("plans-none").hidden = got.plans.length > 0;
  at("plans").replaceChildren(...got.plans.map(planRow));
  at("pace").replaceChildren(...got.paces.map((pace) => new Option(pace === 1 ? "in real time" : `${pace} times as fast`, pace)));
}

function planRow(plan) {
  const open = button(plan.title, `${plan.file}, ${plan.where}. For: ${plan.body}`);
  open.addEventListener("click", () => openPlan({plan: plan.key, rehearse: false}));
  const copy = button("Copy", "to change it");
  copy.addEventListener("click", () => {
    copies = plan.key;
    at("copying").hidden = false;
    at("copy-title").value = `${plan.title}, ${new Date().toLocaleDateString("en-GB", {day: "numeric", month: "long"})}`;
    at("copy-title").focus();
    at("copying").scrollIntoView({block: "center"});
  });
  [open, copy].forEach((one) => { one.disabled = !maySteer; });
  return make("li", {}, open, copy);
}

async function openPlan(asked) {
  const got = await tried("Opening…", () => send("/evening/open", asked));
  if (!got) return;
  rows.clear();
  at("groups").replaceChildren();
  opens = true;
  took(got);
}

at("copying").addEventListener("submit", async (event) => {
  event.preventDefault();
  const made = await tried("Copying…", () => send("/evening/copy", {plan: copies, title: at("copy-title").value}));
  if (!made) return;
  at("copying").hidden = true;
  await readPlans();
  await openPlan({plan: made.key, rehearse: false});
});
at("copy-not").addEventListener("click", () => { at("copying").hidden = true; });

// The draft -----------------------------------------------------------------------------------------------------------

function draw() {
  document.querySelectorAll("#tabs button").forEach((one) => {
    one.setAttribute("aria-pressed", String(one.dataset.tab === tab));
    one.disabled = ["plan", "picture", "begin"].includes(one.dataset.tab) && !draft.plan;
  });
  document.querySelectorAll("main > section").forEach((part) => { part.hidden = !PARTS[tab].includes(part.id); });
  if (!draft.plan) return;
  drawPlan();
  if (draft.ladder) drawLadder(draft.ladder);
  else ["ladder-part", "pack-part", "care-part"].forEach((part) => { at(part).hidden = true; });
  drawChecks();
  drawBegin();
  const busy = Boolean(draft.doing);
  at("halt").hidden = !busy || !maySteer;
  drawPicture(draft.picture, busy);
}

function drawPlan() {
  const plan = draft.plan;
  text("title", draft.ladder ? draft.ladder.title : plan.path);
  text("file", `${plan.path}${plan.saved ? "" : " (changed, not saved)"}`);
  words("mistakes", plan.mistakes);
  plan.groups.forEach(drawGroup);
  const there = new Set(plan.groups.flatMap((group) => group.keys.map((one) => one.key)));
  [...rows].filter(([key]) => !there.has(key)).forEach(([key, row]) => {
    row.remove();
    rows.delete(key);
  });
  at("undo").disabled = !plan.edits || !maySteer;
  at("save").disabled = plan.saved || !draft.may_save || !maySteer;
  const simulated = Boolean(draft.begin) && draft.begin.simulated;
  at("with-camera").setAttribute("aria-pressed", String(!simulated));
  at("with-camera").disabled = simulated && !draft.rehearse; // the plan is for the simulated body
  at("with-none").setAttribute("aria-pressed", String(simulated));
  at("pace-part").hidden = !simulated;
  at("pace").value = String(draft.pace);
}

function drawGroup(group) {
  const id = `group-${group.name.replace(/\W/g, "-")}`;
  let box = document.getElementById(id);
  if (!box) {
    const head = make("summary", {}, group.name[0].toUpperCase() + group.name.slice(1));
    box = make("details", {id, open: OPEN_GROUPS.includes(group.name)}, head);
    at("groups").append(box);
  }
  group.keys.forEach((one) => drawKey(box, one));
}

function drawKey(box, one) {
  const row = rows.get(one.key) ?? keyRow(box, one);
  row.querySelector("label").textContent = one.called;
  const input = row.querySelector("input, select");
  if (document.activeElement !== input) input.value = one.value || (input.tagName === "SELECT" ? one.default : "");
  input.placeholder = one.default;
  row.querySelector(".hint").textContent = one.hint;
}

function keyRow(box, one) {
  const id = `key-${one.key.replace(/\W/g, "-")}`;
  const input = make(one.choices.length && !one.hint ? "select" : "input", {id, disabled: !maySteer});
  if (input.tagName === "SELECT") input.append(...one.choices.map((choice) => new Option(choice, choice)));
  else input.autocomplete = "off";
  const wrong = make("p", {className: "wrong"});
  wrong.setAttribute("role", "alert");
  input.addEventListener("change", () => edit(one.key, input, wrong));
  const row = make("div", {className: "key"}, make("label", {htmlFor: id}), input, wrong, make("p", {className: "hint"}));
  box.append(row);
  rows.set(one.key, row);
  return row;
}

/** Give a key another value; what is wrong with it is said at its place, and what was typed stays there. */
async function edit(key, input, wrong) {
  const typed = input.value;
  wrong.textContent = "";
  const got = await wish({wish: "edit", key, value: typed});
  if (got && got.refused) {
    wrong.textContent = got.said;
    input.value = typed;
  } else if (got && key.endsWith(".new")) {
    input.value = "";
  }
}

// The ladder as a picture, what to pack, and cautions -----------------------------------------------------------------

function drawLadder(ladder) {
  text("ending", ladder.ending);
  at("rows").replaceChildren(...ladder.rows.map((row) => (
    row.task ? make("li", {className: "task"}, `${row.task} (${row.takes})`) : rungRow(row))));
  words("unreached", ladder.unreached);
  words("bring", ladder.bring);
  words("fit", ladder.fit);
  text("not-needed", ladder.leave.length ? `Not needed for this ladder: ${ladder.leave.join(", ")}.` : "");
  words("notes", ladder.notes);
  words("cautions", ladder.cautions);
}

function rungRow(row) {
  const part = (name, said = "") => make("span", {className: name}, said);
  const bar = part("bar");
  bar.style.width = `${100 * row.share}%`;
  const more = part("more", [row.shot, row.filters, row.more].filter(Boolean).join(" · "));
  const kinds = `rung${row.bulb ? " bulb" : ""}${row.filters ? " through" : ""}`;
  return make("li", {className: kinds}, part("number", row.rung), part("time", row.time), bar, more);
}

function drawChecks() {
  const checks = draft.checks;
  at("check").disabled = Boolean(draft.doing) || !maySteer;
  if (!checks) {
    text("checked", "Nothing is checked yet. It is done before the first frame in any case; what stops the ladder is told.");
    at("findings").replaceChildren();
    delete at("findings").dataset.of;
    at("fine").hidden = true;
    return;
  }
  text("checked", `Checked at ${checks.at}${checks.stale ? "; the plan was changed since" : ""}.`);
  const shown = JSON.stringify(checks.findings);
  if (at("findings").dataset.of === shown) return; // what is being typed there stays
  at("findings").dataset.of = shown;
  const fine = checks.findings.filter((one) => one.verdict === "ok");
  at("findings").replaceChildren(...checks.findings.filter((one) => one.verdict !== "ok").map(findingRow));
  at("fine").hidden = !fine.length;
  text("fine-head", `${fine.length} more are as they should be`);
  at("fine-list").replaceChildren(...fine.map(findingRow));
}

const foundRow = (found) => make("li", {className: found.verdict}, make("b", {}, `${found.what}: `), found.text);

function findingRow(found) {
  const element = foundRow(found);
  if (found.verdict === "stop") {
    const id = `despite-${found.what.replace(/\W/g, "-")}`;
    const input = make("input", {id, maxLength: 200, autocomplete: "off"});
    input.dataset.what = found.what;
    element.append(make("label", {htmlFor: id}, "Begin all the same, because"), input);
  }
  return element;
}

function drawBegin() {
  text("begin-how", draft.begin.how);
  text("begin-what", draft.begin.button);
  at("begin").hidden = !draft.begin.may || !maySteer;
}

// What the person does ------------------------------------------------------------------------------------------------

function show(name) {
  if (tab === "picture" && name !== tab) endLive();
  tab = name;
  went = true;
  draw();
  scrollTo(0, 0);
  if (name === "after") drawPower();
}

document.querySelectorAll("#tabs button").forEach((one) => one.addEventListener("click", () => show(one.dataset.tab)));
document.querySelectorAll("[data-wish]").forEach((one) => {
  one.addEventListener("click", () => wish({wish: one.dataset.wish}, one.dataset.doing));
});
at("with-camera").addEventListener("click", () => openPlan({rehearse: false, pace: 1}));
at("with-none").addEventListener("click", () => openPlan({rehearse: true, pace: Number(at("pace").value)}));
at("pace").addEventListener("change", () => openPlan({rehearse: draft.rehearse, pace: Number(at("pace").value)}));

held(at("begin"), HOLD_BEGIN_MS, "How long it was held", begin, () => say("Not held for a second; nothing was begun.", true));

async function begin() {
  const despite = {};
  document.querySelectorAll("[data-what]").forEach((input) => { despite[input.dataset.what] = input.value; });
  goesOver = true;
  const got = await tried("The run is begun…", () => send("/evening/begin", {despite, who: at("who").value}));
  if (got) took(got);
  else goesOver = false;
}

// Afterwards ----------------------------------------------------------------------------------------------------------

/** Have something done with the outing that takes a while, and show what was said of it. */
async function atOuting(path, doing) {
  const buttons = ["finish", "fetch", "resume", "again"].map(at);
  buttons.forEach((one) => { one.disabled = true; });
  const got = await tried(doing, () => send(path, {}));
  buttons.forEach((one) => { one.disabled = !maySteer; });
  text("finished", got ? got.said : "");
  if (got) say("");
  return got;
}

async function finish(path, doing) {
  const got = await atOuting(path, doing);
  if (!got) return;
  at("found").replaceChildren(...got.found.map(foundRow));
  at("fetch").hidden = !got.fetch;
}

at("finish").addEventListener("click", () => finish("/evening/finish", "Looking at the camera and the outing…"));
at("fetch").addEventListener("click", () => finish("/evening/fetch", "Copying what is on the card…"));

/** Begin another run in the outing, and show it. */
async function another(how, doing) {
  const got = await atOuting(`/evening/${how}`, doing);
  if (got && got.done) location.href = "/";
}

const resume = () => another("resume", "What is left of the ladder is taken up…");
held(at("resume"), HOLD_BEGIN_MS, "How long it was held", resume, () => say("Not held for a second; nothing was resumed.", true));
const again = () => another("again", "A new base is looked for; then the ladder begins…");
held(at("again"), HOLD_BEGIN_MS, "How long it was held", again, () => say("Not held for a second; nothing was begun.", true));

async function drawPower() {
  const may = await tried("", () => ask("/evening/power"));
  text("power", may ? may.sentence : "");
  at("finish").disabled = at("resume").disabled = at("again").disabled = !maySteer;
  at("shut-down").hidden = !may || !may.allowed || !maySteer;
}

at("shut-down").addEventListener("click", () => {
  text("sure-said", "");
  at("sure").showModal();
});
at("stay-on").addEventListener("click", () => at("sure").close());
held(at("shut-down-now"), HOLD_OFF_MS, "How long it was held", shutDown, () => text("sure-said", "Not held for two seconds; it stays on."));

async function shutDown() {
  const got = await tried("", () => send("/evening/shut-down", {sure: true}));
  text("sure-said", got ? got.sentence : at("said").textContent);
}

// Going on ------------------------------------------------------------------------------------------------------------

async function poll() {
  setTimeout(poll, draft.picture && draft.picture.live ? POLL_LIVE_MS : POLL_MS);
  if (document.visibilityState !== "visible" || !draft.open) return;
  try {
    const got = await ask("/evening/draft");
    if (got.open) took(got);
  } catch {
    say("The page’s server does not answer. Trying again.", true);
  }
}

async function start() {
  tellHeight("dock");
  await readPlans();
  const got = await tried("", () => ask("/evening/draft"));
  if (got && got.open && !got.begun && !draft.open) draft = got;
  if (went || opens) {
    draw();
    if (tab === "after") drawPower();
  } else show(location.hash === "#after" ? "after" : draft.plan ? "plan" : "plans");
  setTimeout(poll, POLL_MS);
}

start();
