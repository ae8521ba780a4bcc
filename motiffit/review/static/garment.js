import { Board, cornersOf, moved } from "./board.js";
import { drawPanel, sayAnswer } from "./panel.js";
import { alarm, ask, attempt, byId, mention, tell } from "./talk.js";

const FLAGS = ["zip", "snaps", "raised", "vinyl"];
const FIELD_WORDS = {
  outline_px: "the motif's box", near_px: "the motif", pick: "the motif", no_motif: "whether there is a motif",
  place: "where the square lies", size_mm: "the size", note: "the note", garment: "the garment's name",
  keep: "whether it is in the quilt", accepted: "whether it is accepted",
  zip: "zip", snaps: "snaps", raised: "3D piece", vinyl: "vinyl print",
};
let key = location.pathname.split("/").pop();
let look = null;
let queue = [];
let draft = {}; // what is being dragged and not yet kept: box, window
let isBefore = false;
let undos = JSON.parse(sessionStorage.getItem("undos") || "[]");

const board = new Board(byId("picture"), {
  change: (part, value) => change(part, value),
  end: () => keepDraft(),
  press: (part, event) => press(part, event),
  pick: (rank) => say({ pick: rank + 1, place: null }, "another motif"),
  drawing: (wanted) => byId("draw").setAttribute("aria-pressed", wanted),
});

// -- what is shown ------------------------------------------------------------------------------

async function show(next, { isPast = false } = {}) {
  await finishDraft();
  key = next;
  draft = {};
  if (!isPast) history.pushState({}, "", `/garment/${key}`);
  look = null;
  board.clear();
  byId("waiting").hidden = false;
  byId("waiting").textContent = "Measuring the photo\u2026";
  drawQueue();
  const fresh = await attempt(() => ask(`/api/garments/${next}`));
  if (key !== next) return;
  if (!fresh) { byId("waiting").textContent = "This photo cannot be shown."; return; }
  take(fresh, true);
  prefetch();
}

/** Take in what the program says of the garment. */
function take(fresh, isNew) {
  look = { ...look, ...fresh };
  document.title = look.photo;
  byId("name").firstElementChild.textContent = look.photo;
  byId("waiting").hidden = look.sheet !== null;
  if (look.sheet === null) { byId("waiting").textContent = look.reason; board.clear(); }
  else if (isNew) board.open(look.frame, `/picture/${key}/flat.jpg?v=${encodeURIComponent(look.version)}`);
  drawSaid();
  draw();
  if (isNew && look.sheet) sayAnswer(look);
}

function draw() {
  drawPanel(look);
  byId("undo").disabled = undos.length === 0;
  if (look.sheet) drawBoard();
}

function drawBoard() {
  const { sheet } = look;
  const box = draft.box || sheet.motif;
  board.draw({
    box,
    window: draft.window ? placed(sheet.window, draft.window) : sheet.window,
    motifs: sheet.motifs,
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
}

function step(by) {
  const target = queue[queue.findIndex((photo) => photo.key === key) + by];
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
  if (part === "window") draft.window = value;
  else draft.box = value;
  drawBoard();
  tryOut();
}

/** What the draft says, in the program's words. */
function draftWords() {
  const words = {};
  if (draft.box) words.box = cornersOf(draft.box);
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
  const asked = key;
  do {
    isStale = false;
    try {
      const sheet = await tell(`/api/garments/${asked}/try`, { changes: draftWords() });
      if (key === asked && (draft.box || draft.window)) { look.sheet = sheet; draw(); }
    } catch (error) { alarm(error); }
  } while (isStale);
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
  const words = draftWords();
  keeping = say(words, draft.window ? "the square" : "the box");
  return keeping;
}

async function finishDraft() {
  await keepDraft();
  await keeping;
}

let line = Promise.resolve();

/** Keep a word: one after the other, so that each knows what the one before it came to. */
function say(...words) {
  line = line.then(() => sayNow(...words));
  return line;
}

async function sayNow(changes, what, accepts) {
  const asked = key;
  const sent = draft;
  const fresh = await attempt(() => tell(`/api/garments/${asked}/say`, { changes, revision: look.said.revision, ...(accepts === undefined ? {} : { accepts }) }));
  if (draft.box === sent.box && draft.window === sent.window) draft = {};
  if (!fresh) { if (key === asked && look) { const again = await attempt(() => ask(`/api/garments/${asked}`)); if (again) take(again, false); } return false; }
  if (Object.keys(fresh.before).length && !("restore" in changes)) {
    undos.push({ key: asked, before: fresh.before, what });
    undos = undos.slice(-200);
    sessionStorage.setItem("undos", JSON.stringify(undos));
  }
  if (fresh.meanwhile.length) mention(`Changed elsewhere meanwhile: ${fieldWords(fresh.meanwhile)}. Of two words on the same thing the later counts.`);
  if (key === asked) { take(fresh, false); sayAnswer(look); }
  readQueue();
  return true;
}

const fieldWords = (fields) => [...new Set(fields.map((name) => FIELD_WORDS[name] || name))].join(", ");

async function undo() {
  await finishDraft();
  const last = undos.pop();
  if (!last) { mention("There is nothing to undo."); return; }
  sessionStorage.setItem("undos", JSON.stringify(undos));
  if (last.key !== key) await show(last.key);
  if (await say({ restore: last.before }, "")) mention(`Undone: ${last.what}.`);
  draw();
}

async function accept() {
  await finishDraft();
  if (!look.sheet?.window) return;
  const isLast = byId("next").disabled;
  if (!await say({}, "accepting", true)) return;
  if (isLast) mention("Accepted. This was the last one.");
  else { mention(`Accepted: finished ${look.sheet.window.finished}.`); step(1); }
}

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
onClick("zoom-in", () => board.zoom(1.4));
onClick("zoom-out", () => board.zoom(1 / 1.4));
onClick("zoom-all", () => look?.sheet && board.showAll());
onClick("zoom-square", () => look?.sheet && board.showAround(look.sheet.window, look.sheet.motif));
onClick("before", toggleBefore);
onClick("help", () => byId("keys").showModal());
onClick("draw", () => look?.sheet && board.setDrawing(!board.isDrawing));
onClick("no-motif", () => say({ no_motif: look.said.no_motif ? null : true }, "no motif"));
onClick("own-motif", () => say({ box: null, pick: null, no_motif: null }, "the motif as found"));
onClick("own-place", () => say({ place: null, size_mm: null }, "the square's place"));

function toggleBefore() {
  isBefore = !isBefore;
  byId("before").setAttribute("aria-pressed", isBefore);
  if (look?.sheet) drawBoard();
}

byId("size-list").addEventListener("change", async (event) => {
  await finishDraft();
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
  if ((event.ctrlKey || event.metaKey) && event.key === "z" && !isTyping) { event.preventDefault(); undo(); return; }
  if (isTyping || event.ctrlKey || event.metaKey || event.altKey || !byId("keys-on").checked) return;
  const action = {
    n: () => step(1), p: () => step(-1), a: accept, u: undo, b: toggleBefore, "+": () => board.zoom(1.4), "=": () => board.zoom(1.4),
    "-": () => board.zoom(1 / 1.4), 0: () => look?.sheet && board.showAll(), "?": () => byId("keys").showModal(),
  }[event.key];
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
