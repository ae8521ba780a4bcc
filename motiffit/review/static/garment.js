import { Board, cornersOf, moved } from "./board.js";
import { drawPanel, sayAnswer } from "./panel.js";
import { Past, walkOf } from "./past.js";
import { alarm, ask, attempt, byId, mention, plural, tell } from "./talk.js";
import { Line, once } from "./turns.js";

const FLAGS = ["zip", "snaps", "raised", "vinyl"];
const FIELD_WORDS = {
  outline_px: "the motif's box", near_px: "the motif", pick: "the motif", no_motif: "whether there is a motif",
  outline_sd_mm: "the motif's box", side_mm: "the size of card or square",
  place: "where the square lies", size_mm: "the size", note: "the note", garment: "the garment's name",
  keep: "whether it is in the quilt", accepted: "whether it is accepted",
  zip: "zip", snaps: "snaps", raised: "3D piece", vinyl: "vinyl print",
};
let key = location.pathname.split("/").pop();
let wanted = { key }; // where the last step leads, while words are still on their way
let look = null;
const heard = new Map(); // the revision of each garment that this window knows
let queue = [];
let draft = {}; // what is being dragged and not yet kept: box, window
let isBefore = false;
const line = new Line(); // of words said: each knows what the one before it came to
const past = new Past("garments", (steps) => restore(steps));

const board = new Board(byId("picture"), {
  change: (part, value) => change(part, value),
  start: () => keepDraft(),
  end: () => keepDraft(),
  cancel: () => { draft = {}; line.add(lookAgain); },
  press: (part, event) => press(part, event),
  pick: (rank) => say({ pick: rank + 1, place: null }, "another motif"),
  drawing: (wanted) => byId("draw").setAttribute("aria-pressed", wanted),
});

// -- what is shown ------------------------------------------------------------------------------

/** Go to a garment once all that was said of the one before has been answered. */
async function show(next, options) {
  const mine = { key: next };
  wanted = mine;
  document.activeElement?.closest("#note, #garment-name")?.blur(); // what was typed belongs to the one before
  await finishDraft();
  await line.idle();
  if (wanted === mine) await open(next, options);
}

async function open(next, { isPast = false } = {}) {
  keepDraft(); // one that was made while others were answered
  key = next;
  wanted = { key };
  draft = {};
  if (!isPast) history.pushState({}, "", `/garment/${key}`);
  look = null;
  board.clear();
  sayWaiting("Measuring the photo\u2026");
  drawQueue();
  const fresh = await attempt(() => ask(`/api/garments/${next}`));
  if (key !== next) return;
  if (!fresh) { sayWaiting("This photo cannot be shown."); return; }
  take(fresh, true);
  prefetch();
}

function sayWaiting(words) {
  byId("waiting").hidden = false;
  byId("waiting").textContent = words;
  byId("plain-photo").hidden = true;
}

/** Take in what the program says of the garment. */
function take(fresh, isNew) {
  const isOtherView = isNew || JSON.stringify(fresh.frame) !== JSON.stringify(look?.frame);
  look = { ...look, ...fresh };
  heard.set(key, look.said.revision);
  document.title = look.photo;
  byId("name").firstElementChild.textContent = look.photo;
  byId("waiting").hidden = true;
  byId("plain-photo").hidden = look.sheet !== null;
  if (look.sheet === null) { board.clear(); showPlainPhoto(); }
  else if (isOtherView) board.open(look.frame, `/picture/${key}/flat.jpg?v=${encodeURIComponent(`${look.version} ${look.said.side}`)}`);
  drawSaid();
  draw();
  if (isNew && look.sheet) sayAnswer(look);
}

/** A photo that was not measured is shown as it is. */
function showPlainPhoto() {
  const photo = byId("plain-photo");
  photo.alt = `The photo ${look.photo}, not measured`;
  photo.onerror = () => sayWaiting(look.reason);
  photo.src = `/picture/${key}/plain.jpg?v=${encodeURIComponent(look.version)}`;
}

function draw() {
  drawPanel(look);
  past.draw();
  if (look.sheet) drawBoard();
}

function drawBoard() {
  const { sheet } = look;
  const box = draft.box || sheet.motif;
  board.draw({
    box,
    window: draft.window ? placed(sheet.window, draft.window) : sheet.window,
    motifs: sheet.motifs.length > 1 || look.said.no_motif ? sheet.motifs : [], // a lone one is no choice
    picked: look.said.has_box || look.said.no_motif || draft.box ? -1 : (look.said.pick || 1) - 1,
    own: isBefore ? sheet.own_window?.cut_corners : null,
    words: labels(sheet),
  });
}

/** The square's lines at the place to which it is being dragged, until the program answers. */
function placed(window, { middle, angle }) {
  const lines = (side) => cornersOf({ middle, width: side, height: side, angle });
  return { ...window, middle, angle, cut_corners: lines(window.cut_mm), seam_corners: lines(window.finished_mm) };
}

function labels({ clearance, window }) {
  const side = (name) => `Motif's ${name} edge${clearance ? `, ${clearance[name].words} ${clearance[name].state === "cuts" ? "cut off" : "from the seam line"}` : ""}`;
  return {
    box: "Motif's box", top: side("top"), right: side("right"), bottom: side("bottom"), left: side("left"),
    window: window ? `Square, finished ${window.finished}, cut ${window.cut}` : "Square",
  };
}

function drawSaid() {
  const { said } = look;
  const busy = document.activeElement;
  for (const name of FLAGS) byId("flags").querySelector(`[name=${name}]`).checked = Boolean(said[name]);
  for (const [id, value] of [["garment-name", said.garment], ["note", said.note]]) {
    if (byId(id) !== busy) byId(id).value = value || "";
  }
  byId("keep").value = said.keep === null ? "" : said.keep ? "yes" : "no";
  if (byId("side") !== busy) byId("side").value = said.side || (look.waits_for_side ? localStorage.getItem("side") || "" : "");
  drawOthersWaiting();
}

/** The photos that wait for the size of a plain square, but for this one. */
const othersWaiting = () => queue.filter((photo) => photo.waits_for_side && photo.key !== key);

function drawOthersWaiting() {
  const others = othersWaiting().length;
  byId("side-for-all").hidden = !look?.said.side || !look.sheet || !others;
  byId("side-for-all").textContent = `Use ${look?.said.side} for ${plural(others, "other photo")} without a card, too`;
}

async function readQueue() {
  const pile = await attempt(() => ask("/api/pile"));
  if (!pile) return;
  // the order in hand stays, or accepting would shuffle it under her feet; news go to its end
  const ranked = [...pile.photos].sort((a, b) => a.rank - b.rank);
  const byKey = new Map(ranked.map((photo) => [photo.key, photo]));
  const kept = queue.filter((photo) => byKey.has(photo.key)).map((photo) => byKey.get(photo.key));
  const known = new Set(kept.map((photo) => photo.key));
  queue = [...kept, ...ranked.filter((photo) => !known.has(photo.key))];
  drawQueue();
}

function drawQueue() {
  const at = queue.findIndex((photo) => photo.key === key);
  byId("previous").disabled = at <= 0;
  byId("next").disabled = at < 0 || at >= queue.length - 1;
  const open = queue.filter((photo) => photo.needs_an_eye).length;
  byId("position").textContent = at < 0 ? "" : `${at + 1} of ${queue.length}${open ? `, ${open} to look at` : ""}`;
  drawOthersWaiting();
}

function step(by) {
  const target = queue[queue.findIndex((photo) => photo.key === wanted.key) + by];
  if (target) show(target.key);
}

function prefetch() {
  const next = queue[queue.findIndex((photo) => photo.key === key) + 1];
  if (next) setTimeout(() => ask(`/api/garments/${next.key}`).catch(() => {}), 150);
}

// -- changes --------------------------------------------------------------------------------------

let isAsking = false;
let isStale = false;

function change(part, value) {
  if (!look?.sheet) return;
  if (part === "window") draft.window = value;
  else draft.box = value;
  drawBoard();
  tryOut();
}

/** What the draft says, in the program's words. */
function draftWords() {
  const words = {};
  if (draft.box) words.box = { corners: cornersOf(draft.box), px_mm: board.mmPerPx };
  if (draft.window) {
    words.place = { middle: draft.window.middle, angle: draft.window.angle };
    if (look.said.size_mm === null) words.size_mm = look.sheet.window.finished_mm;
  }
  return words;
}

/** Ask what would come of the draft: one question at a time, the latest draft last. */
async function tryOut() {
  if (isAsking) { isStale = true; return; }
  isAsking = true;
  do {
    const asked = key;
    isStale = false;
    try {
      const sheet = await tell(`/api/garments/${asked}/try`, { changes: draftWords() });
      if (key === asked && (draft.box || draft.window)) { look.sheet = sheet; draw(); }
    } catch (error) { alarm(error); }
  } while (isStale && (draft.box || draft.window));
  isAsking = false;
}

let keeping = null;
let resting = null;

/** Keep the draft when the keys have rested for a moment. */
function keepSoon() {
  clearTimeout(resting);
  resting = setTimeout(keepDraft, 700);
}

function keepDraft() {
  clearTimeout(resting);
  if (!draft.box && !draft.window) return keeping;
  keeping = say(draftWords(), draft.window ? "the square" : "the box", { sent: { ...draft } });
  return keeping;
}

async function finishDraft() {
  await keepDraft();
  await keeping;
}

/** Keep a word on the garment that is in view now, whichever is in view when its turn comes. */
async function say(changes, what, { accepts, sent = {} } = {}) {
  if (!look) { mention("The photo is still being measured."); return false; }
  const told = key;
  return line.add(() => sayNow(told, changes, what, accepts, sent));
}

async function sayNow(told, changes, what, accepts, sent) {
  const fresh = await attempt(() => tell(`/api/garments/${told}/say`, { changes, revision: heard.get(told), ...(accepts === undefined ? {} : { accepts }) }));
  for (const part of Object.keys(sent)) if (draft[part] === sent[part]) delete draft[part];
  if (!fresh) { if (key === told && look) await lookAgain(); return false; }
  heard.set(told, fresh.said.revision);
  if (Object.keys(fresh.before).length) past.add([{ key: told, before: fresh.before }], what);
  if (fresh.meanwhile.length) mention(`Changed elsewhere meanwhile: ${fieldWords(fresh.meanwhile)}. Of two words on the same thing the later counts.`);
  if (key === told && look) { take(fresh, false); sayAnswer(look); }
  readQueue();
  return true;
}

async function lookAgain() {
  const asked = key;
  const fresh = await attempt(() => ask(`/api/garments/${asked}`));
  if (fresh && key === asked) take(fresh, false);
}

const fieldWords = (fields) => [...new Set(fields.map((name) => FIELD_WORDS[name] || name))].join(", ");

/** Bring back what was said before; returns the way forth again, or null where that failed. */
async function restore(steps) {
  const back = [];
  for (const step of steps) {
    const fresh = await attempt(() => tell(`/api/garments/${step.key}/say`, { changes: { restore: step.before }, revision: Number.MAX_SAFE_INTEGER }));
    if (!fresh) break;
    back.unshift({ key: step.key, before: fresh.before });
  }
  if (!back.length) return null;
  if (steps.some((step) => step.key === key)) await lookAgain();
  else await open(steps[0].key);
  if (look?.sheet) sayAnswer(look);
  readQueue();
  return back;
}

async function walkPast(walk) {
  keepDraft();
  await line.add(() => past[walk]());
  if (look) draw();
}

const undo = () => walkPast("undo");
const redo = () => walkPast("redo");

async function sayForAll() {
  if (!look) return;
  const words = look.said.side;
  const steps = [];
  for (const photo of othersWaiting()) {
    mention(`Measuring ${photo.photo} with ${words}\u2026`);
    const fresh = await attempt(() => tell(`/api/garments/${photo.key}/say`, { changes: { side: words }, revision: Number.MAX_SAFE_INTEGER }));
    if (!fresh) break;
    steps.push({ key: photo.key, before: fresh.before });
    if (!fresh.sheet) alarm(`${photo.photo}: ${fresh.reason}`);
  }
  if (steps.length) {
    past.add(steps, `the square's size in ${plural(steps.length, "photo")}`);
    mention(`Measured ${plural(steps.length, "photo")} with ${words}.`);
  }
  await readQueue();
  draw();
}

const accept = once(async () => {
  const accepted = key;
  await finishDraft();
  if (key !== accepted || !look?.sheet?.window) return;
  const isLast = byId("next").disabled;
  if (!await say({}, "accepting", { accepts: true })) return;
  if (isLast) { mention("Accepted. This was the last one."); return; }
  mention(key === accepted && look?.sheet?.window ? `Accepted: finished ${look.sheet.window.finished}.` : "Accepted.");
  if (wanted.key === accepted) step(1);
});

// -- small steps ------------------------------------------------------------------------------------

function nudge(part, dx, dy, turn = 0) {
  if (!look?.sheet) return;
  const isWindow = part === "window";
  const start = isWindow ? draft.window || look.sheet.window : draft.box || look.sheet.motif;
  if (!start) return;
  const value = moved(part, start, dx, dy);
  if (isWindow) value.angle = start.angle + turn;
  change(part, value);
  keepSoon();
}

const stepMm = (isLarge) => {
  const small = look.units === "in" ? 25.4 / 16 : 1;
  return small * (isLarge ? (look.units === "in" ? 4 : 5) : 1);
};

function press(part, event) {
  const move = { ArrowUp: [0, -1], ArrowDown: [0, 1], ArrowLeft: [-1, 0], ArrowRight: [1, 0] }[event.key];
  const turn = { "[": -1, "]": 1 }[event.key];
  if (event.altKey || event.ctrlKey || event.metaKey || (!move && !turn)) return;
  event.preventDefault();
  const length = stepMm(event.shiftKey);
  if (move) nudge(part, move[0] * length, move[1] * length);
  else nudge("window", 0, 0, turn);
}

for (const button of document.querySelectorAll("[data-move]")) {
  button.addEventListener("click", () => {
    const length = stepMm(byId("step").value === "large");
    const { move } = button.dataset;
    if (move.startsWith("turn")) { nudge("window", 0, 0, move === "turn-left" ? -1 : 1); return; }
    const [x, y] = { up: [0, -1], down: [0, 1], left: [-1, 0], right: [1, 0] }[move];
    nudge(byId("target").value, x * length, y * length);
  });
}

// -- buttons, fields, keys ------------------------------------------------------------------------------

const onClick = (id, action) => byId(id).addEventListener("click", action);
onClick("previous", () => step(-1));
onClick("next", () => step(1));
onClick("accept", accept);
onClick("undo", undo);
onClick("redo", redo);
onClick("side-for-all", sayForAll);
onClick("zoom-in", () => board.zoom(1.4));
onClick("zoom-out", () => board.zoom(1 / 1.4));
onClick("zoom-all", () => look?.sheet && board.showAll());
onClick("zoom-square", () => look?.sheet && board.showAround(look.sheet.window, look.sheet.motif));
onClick("before", toggleBefore);
onClick("help", () => byId("keys").showModal());
onClick("draw", () => look?.sheet && board.setDrawing(!board.isDrawing));
onClick("no-motif", () => say({ no_motif: look?.said.no_motif ? null : true }, "no motif"));
onClick("own-motif", () => say({ box: null, pick: null, no_motif: null }, "the motif as found"));
onClick("own-place", () => say({ place: null, size_mm: null }, "the square's place"));

function toggleBefore() {
  isBefore = !isBefore;
  byId("before").setAttribute("aria-pressed", isBefore);
  if (look?.sheet) drawBoard();
}

byId("side-form").addEventListener("submit", async (event) => {
  event.preventDefault();
  keepDraft();
  const side = byId("side").value.trim() || null;
  const button = event.target.querySelector("button");
  button.disabled = true;
  byId("side").blur();
  mention("Measuring the photo\u2026");
  if (await say({ side }, "the square's size")) {
    if (side) localStorage.setItem("side", side);
    mention(look?.sheet ? `Measured by ${look.sheet.square}.` : "It still cannot be measured.");
  }
  button.disabled = false;
});

byId("size-list").addEventListener("change", (event) => {
  keepDraft();
  say({ size_mm: event.target.value ? Number(event.target.value) : null }, "the size");
});
byId("motif-list").addEventListener("click", async (event) => {
  const rank = event.target.closest("button")?.dataset.rank;
  if (rank) say({ pick: Number(rank), place: null }, "another motif");
});
byId("flags").addEventListener("change", (event) => say({ [event.target.name]: event.target.checked }, event.target.name));
byId("note").addEventListener("change", (event) => say({ note: event.target.value || null }, "the note"));
byId("garment-name").addEventListener("change", (event) => say({ garment: event.target.value || null }, "the name"));
byId("keep").addEventListener("change", (event) => say({ keep: { "": null, yes: true, no: false }[event.target.value] }, "in the quilt"));

byId("keys-on").checked = localStorage.getItem("keys") !== "off";
byId("keys-on").addEventListener("change", (event) => localStorage.setItem("keys", event.target.checked ? "on" : "off"));

addEventListener("keydown", (event) => {
  const isTyping = event.target.closest("textarea, input[type=text], select, dialog");
  const walk = isTyping ? null : walkOf(event);
  if (walk) { event.preventDefault(); if (!event.repeat) walkPast(walk); return; }
  if (isTyping || event.ctrlKey || event.metaKey || event.altKey || !byId("keys-on").checked) return;
  const action = {
    n: () => step(1), p: () => step(-1), a: accept, u: undo, r: redo, b: toggleBefore, "+": () => board.zoom(1.4), "=": () => board.zoom(1.4),
    "-": () => board.zoom(1 / 1.4), 0: () => look?.sheet && board.showAll(), "?": () => byId("keys").showModal(),
  }[event.key];
  if (event.repeat && "aurnp".includes(event.key)) return; // a key held down is one wish
  if (event.key === "Escape" && board.isDrawing) board.setDrawing(false);
  if (action) { event.preventDefault(); action(); }
});

addEventListener("popstate", () => show(location.pathname.split("/").pop(), { isPast: true }));
addEventListener("beforeunload", (event) => { if (draft.box || draft.window) event.preventDefault(); });

/** See what was said in another window. */
async function watch() {
  const asked = key;
  if (!document.hidden && look && !draft.box && !draft.window) {
    try {
      const { revision } = await ask(`/api/garments/${asked}/revision`);
      if (key === asked && look && revision > look.said.revision && !draft.box && !draft.window) {
        const before = look.said;
        const fresh = await ask(`/api/garments/${asked}`);
        if (key === asked && fresh.said.revision > look.said.revision) {
          take(fresh, false);
          mention(before.note === fresh.said.note ? "This garment was changed in another window." : "The note was changed in another window.");
        }
      }
    } catch { /* the next action will say that the program does not answer */ }
  }
  setTimeout(watch, 4000);
}

await readQueue();
await show(key, { isPast: true });
watch();
