import { ICONS, byId, make, unbroken } from "./talk.js";

const SIDES = ["top", "right", "bottom", "left"];
const STATES = { clear: ["\u2714", "clear"], close: ["!", "close"], cuts: ["\u2718", "cut off"] };

/** Show everything that is said of the garment beside its picture. */
export function drawPanel({ sheet, said, is_accepted: isAccepted, units, reason, waits_for_side: waitsForSide }) {
  // without a measure there is nothing to choose, to move or to zoom: only what may help is shown
  for (const field of document.querySelectorAll("#panel fieldset.block, #tools, #legend, #sizes-line")) {
    if (field.querySelector("#note") === null) field.hidden = sheet === null;
  }
  const outcome = sheet?.outcome ?? "refused";
  const badge = byId("badge");
  badge.className = `badge is-${outcome}`;
  badge.replaceChildren(make("span", { "aria-hidden": "true" }, `${ICONS[outcome]} `), sheet === null ? "Not measured" : sheet.words, isAccepted ? ", accepted by you" : "");
  byId("finished").textContent = sheet?.window?.finished ?? "\u2013";
  byId("cut").textContent = sheet?.window?.cut ?? "\u2013";
  byId("certainty").textContent = sheet?.certainty ?? "";
  const accept = byId("accept");
  accept.hidden = !sheet?.window;
  accept.className = outcome === "cuts" ? "risky" : "primary";
  accept.textContent = isAccepted ? "Accepted, next" : outcome === "cuts" ? "Accept although it may cut the motif" : "Accept, next";
  drawCompass(sheet);
  drawMessages(sheet, reason);
  drawSquare(sheet, waitsForSide);
  if (sheet) { drawSizes(sheet, said); drawMotifs(sheet, said); drawSteps(units); }
}

function drawCompass(sheet) {
  const compass = byId("compass");
  compass.hidden = !sheet?.clearance;
  if (compass.hidden) return;
  compass.setAttribute("aria-label", `Motif to seam line: ${spoken(sheet.clearance)}`);
  compass.replaceChildren(...SIDES.map((side) => drawSide(side, sheet.clearance[side])), make("span", { class: "core" }, "motif"));
}

/** One side's distance, and the cloth that is missing there; marked as the worse of the two. */
function drawSide(side, { words, state, cloth }) {
  const worse = cloth && state !== "cuts" ? cloth.state : state;
  return make("span", { class: `${side}-side side-${worse}` },
    `${STATES[worse][0]}\u00a0${state === "cuts" ? "cuts " : ""}${unbroken(words)}`,
    cloth ? make("span", { class: "missing" }, `cloth ${unbroken(cloth.words)} short`) : null);
}

const spoken = (clearance) => SIDES.map((side) => {
  const { words, state, cloth } = clearance[side];
  const short = cloth ? ` with cloth ${cloth.words} short${cloth.state === "cuts" ? ", the seam of a piece through the motif" : ""}` : "";
  return `${side} ${words}${state === "clear" ? "" : ` ${STATES[state][1]}`}${short}`;
}).join(", ");

function drawSquare(sheet, waitsForSide) {
  const square = byId("square");
  square.hidden = sheet === null && !waitsForSide && !byId("side").value;
  byId("square-words").textContent = sheet ? sheet.square : "A plain square instead of a card?";
  // opened where it helps; after that a person opens and closes it at will
  if (square.dataset.photo !== document.title || waitsForSide) square.open = waitsForSide;
  square.dataset.photo = document.title;
}

function drawMessages(sheet, reason) {
  const items = sheet === null ? [{ severity: "error", text: reason }] : sheet.messages;
  const stamp = JSON.stringify(items);
  const list = byId("messages");
  if (list.dataset.stamp === stamp) return;
  list.dataset.stamp = stamp;
  list.replaceChildren(...items.map(({ severity, text }) => make("li", { class: severity },
    make("span", { class: "unseen" }, { note: "Note: ", warning: "Look: ", error: "Problem: " }[severity]), text)));
}

function drawSizes({ sizes, window, motif }, said) {
  const place = byId("size-list");
  const hasMotif = motif !== null;
  const stamp = JSON.stringify([sizes, said.size_mm, window?.finished_mm, hasMotif]);
  if (place.dataset.stamp === stamp) return;
  place.dataset.stamp = stamp;
  const focused = place.contains(document.activeElement) ? document.activeElement.value : null;
  const chosen = said.size_mm;
  const option = (value, isChecked, ...words) => make("label", {}, make("input", { type: "radio", name: "size", value, checked: isChecked }), make("span", {}, ...words));
  const own = chosen === null ? sizes.find((size) => size.is_shown) : null;
  const isAnySafe = sizes.some((size) => size.state === "clear");
  const rows = [option("", chosen === null, `${hasMotif ? (isAnySafe ? "The smallest that is safe" : "None is safe; the largest") : "The largest that the cloth allows"}${own ? `: ${own.words}` : ""}`)];
  const isListed = sizes.some((size) => Math.abs(size.mm - chosen) < 0.01);
  if (chosen !== null && !isListed && window) rows.push(option(chosen, true, window.finished));
  for (const size of sizes) {
    rows.push(option(size.mm, chosen !== null && Math.abs(size.mm - chosen) < 0.01,
      make("strong", {}, size.words), make("br"), make("small", {}, size.why ? `${STATES[size.state][0]} ${size.why}` : "")));
  }
  place.replaceChildren(...rows);
  if (focused !== null) place.querySelector(`input[value="${CSS.escape(focused)}"]`)?.focus();
}

function drawMotifs({ motifs, motif }, said) {
  byId("motif-words").textContent = motif ? motif.words : said.no_motif ? "You said that there is none." : "None found.";
  const list = byId("motif-list");
  const picked = said.has_box || said.no_motif ? 0 : said.pick || 1;
  const stamp = JSON.stringify([motifs.map((other) => other.words), picked]);
  byId("no-motif").setAttribute("aria-pressed", said.no_motif);
  byId("own-motif").disabled = !(said.has_box || said.no_motif || said.pick);
  byId("own-place").disabled = !(said.has_place || said.size_mm !== null);
  if (list.dataset.stamp === stamp) return;
  list.dataset.stamp = stamp;
  list.hidden = motifs.length < 2;
  list.replaceChildren(...motifs.map((other, n) => make("button", { type: "button", "data-rank": n + 1, "aria-pressed": n + 1 === picked }, `Motif ${n + 1}: ${other.words}`)));
}

function drawSteps(units) {
  const step = byId("step");
  if (step.dataset.units === units) return;
  step.dataset.units = units;
  const [small, large] = units === "in" ? ["1/16 in", "1/4 in"] : ["1 mm", "5 mm"];
  step.replaceChildren(make("option", { value: "small" }, small), make("option", { value: "large" }, large));
}

let timer = null;

/** Say the answer aloud once it has settled. */
export function sayAnswer({ sheet }) {
  clearTimeout(timer);
  timer = setTimeout(() => {
    const { window, clearance, words } = sheet ?? {};
    byId("live").textContent = window ? `${words}. Finished ${window.finished}, cut ${window.cut}.${clearance ? ` Motif to seam line: ${spoken(clearance)}.` : ""}` : "No square.";
  }, 500);
}
