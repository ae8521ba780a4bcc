import { Past, walkOf } from "./past.js";
import { alarm, ask, attempt, byId, make, mention, tell } from "./talk.js";

const GREATEST_HEIGHT = 0.82; // of the window, for the quilt
const cloth = byId("quilt");
let look = null;
let held = null; // the place whose block was picked up by key or click
let at = 0; // the place that Tab reaches
const past = new Past("quilt", restore, 40); // each holds the form and all places

// -- what is shown ------------------------------------------------------------------------------

function take(fresh) {
  if (!fresh) return;
  look = fresh;
  letGo();
  byId("trouble").hidden = !look.trouble;
  byId("trouble").textContent = look.trouble;
  byId("plan").hidden = false;
  fillForm();
  const isPlanned = !look.trouble;
  for (const section of document.querySelectorAll("#plan > section:not(.wishes)")) section.hidden = !isPlanned;
  if (isPlanned) { drawQuilt(); drawLists(); }
  past.draw();
}

/** What an undo brings back. */
const state = () => ({ form: look.form, places: look.wanted });

async function restore(before) {
  const now = state();
  const fresh = await tellQuilt("/api/quilt/restore", before);
  if (!fresh) return null;
  take(fresh);
  return now;
}

async function tellQuilt(address, words) {
  cloth.classList.add("busy");
  const fresh = await attempt(() => tell(address, words));
  cloth.classList.remove("busy");
  return fresh;
}

/** Change the quilt, keep the way back, and show what came of it. */
const change = (...words) => past.inTurn(() => changeNow(...words));

async function changeNow(address, words, what) {
  const before = state();
  const fresh = await tellQuilt(address, words);
  if (!fresh) return false;
  past.add(before, what);
  take(fresh);
  if (fresh.trouble) alarm(fresh.trouble);
  return true;
}

function drawQuilt() {
  const img = byId("preview");
  cloth.classList.remove("busy");
  cloth.style.maxWidth = `min(100%, ${Math.round(innerHeight * GREATEST_HEIGHT * look.shape)}px)`;
  const address = `/quilt/preview.jpg?v=${look.version}`;
  if (img.getAttribute("src") !== address) img.src = address;
  img.alt = `The quilt: ${look.quilt}`;
  at = Math.min(at, look.cells.length - 1);
  const places = look.cells.map((cell, n) => {
    const name = cell.photo ? `${cell.name}, ${cell.size}` : "plain block";
    const button = make("button", {
      type: "button", class: "place", "data-n": n, tabindex: n === at ? "0" : "-1", "aria-pressed": "false",
      "aria-label": `Row ${cell.row}, column ${cell.column}: ${name}${cell.is_pinned ? ", put there by you" : ""}`, title: name,
    }, cell.is_pinned ? make("span", { class: "pin", "aria-hidden": "true" }, "\u2713") : null);
    for (const side of ["left", "top", "width", "height"]) button.style[side] = `${cell[side] * 100}%`;
    return button;
  });
  const hadFocus = cloth.contains(document.activeElement);
  cloth.replaceChildren(img, ...places);
  if (hadFocus) placeAt(at).focus();
  byId("quilt-words").textContent = look.quilt;
  byId("spread").textContent = look.spread;
}

const placeAt = (n) => cloth.querySelector(`[data-n="${n}"]`);

function drawLists() {
  const line = (cells, numbers = []) => make("tr", {}, ...cells.map((cell, n) => make(n === 0 ? "th" : "td", { ...(n === 0 ? { scope: "row" } : {}), class: numbers.includes(n) ? "number" : null }, cell)));
  byId("block-words").textContent = look.blocks;
  byId("shopping").replaceChildren(...look.shopping.map((cells) => line(cells)));
  byId("cutting").replaceChildren(...look.cutting.flatMap(({ fabric, colour, lines }) => lines.map(([strips, width, yields]) => {
    const swatch = make("span", { class: "swatch", "aria-hidden": "true" });
    swatch.style.background = colour;
    return line([make("span", {}, swatch, fabric), `${strips}`, width, yields], [1]);
  })));
  const left = look.left_out.map(({ photo, reason }) => ({ severity: "note", photo, text: ` gives no block: ${reason}` }));
  const spare = look.spare.map((photo) => ({ severity: "note", text: `${photo} has no place in this grid.` }));
  const other = look.grids.map((words) => ({ severity: "note", text: `Another grid: ${words}.` }));
  byId("messages").replaceChildren(...[...look.messages, ...left, ...spare, ...other].map(({ severity, photo, text }) => make("li", { class: severity }, photo ? make("a", { href: `/garment/${look.keys[photo]}` }, make("bdi", {}, photo)) : null, text)));
  byId("cautions").replaceChildren(...[...look.extensions.map((text) => `Extension piece: ${text}`), ...look.cautions].map((text) => make("li", {}, text)));
}

// -- swapping -------------------------------------------------------------------------------------

async function swap(one, other) {
  letGo();
  if (one === other) return;
  if (cloth.classList.contains("busy")) { mention("The quilt is still being laid out."); return; }
  const place = (n) => [look.cells[n].row, look.cells[n].column];
  const [here, there] = [one, other].map((n) => look.cells[n].name || "a plain block");
  at = other;
  if (await change("/api/quilt/swap", { one: place(one), other: place(other) }, `swapping ${here} and ${there}`)) {
    mention(`Swapped ${here} and ${there}. Blocks now stay where they are.`);
  }
}

function letGo() {
  if (held !== null) placeAt(held)?.setAttribute("aria-pressed", "false");
  held = null;
  byId("held").hidden = true;
}

function pickOrSwap(n) {
  if (held !== null) { swap(held, n); return; }
  held = n;
  placeAt(n).setAttribute("aria-pressed", "true");
  const { photo, name } = look.cells[n];
  byId("held").replaceChildren(`Picked up: ${name || "a plain block"}. Click another block to swap them, or this one to let it go. `,
    photo ? make("a", { href: `/garment/${look.keys[photo]}` }, "Look at the garment") : "");
  byId("held").hidden = false;
}

let drag = null;

cloth.addEventListener("pointerdown", (event) => {
  const place = event.target.closest(".place");
  if (!place || event.button !== 0) return;
  drag = { n: Number(place.dataset.n), x: event.clientX, y: event.clientY, ghost: null };
  place.setPointerCapture(event.pointerId);
});
cloth.addEventListener("pointermove", (event) => {
  if (!drag) return;
  if (!drag.ghost && Math.hypot(event.clientX - drag.x, event.clientY - drag.y) > 7) drag.ghost = makeGhost(drag.n);
  if (!drag.ghost) return;
  drag.ghost.style.left = `${event.clientX - drag.ghost.offsetWidth / 2}px`;
  drag.ghost.style.top = `${event.clientY - drag.ghost.offsetHeight / 2}px`;
  for (const place of cloth.querySelectorAll(".over")) place.classList.remove("over");
  placeUnder(event)?.classList.add("over");
});
cloth.addEventListener("pointerup", (event) => endDrag(event, true));
cloth.addEventListener("pointercancel", (event) => endDrag(event, false));

// by key, or by what presses buttons for a person: no pointer came before it
cloth.addEventListener("click", (event) => {
  const place = event.target.closest(".place");
  if (place && event.detail === 0) choose(Number(place.dataset.n));
});

function endDrag(event, isDropped) {
  const ended = drag;
  drag = null;
  if (!ended) return;
  for (const place of cloth.querySelectorAll(".over")) place.classList.remove("over");
  if (!ended.ghost) { if (isDropped) choose(ended.n); return; }
  ended.ghost.remove();
  const target = placeUnder(event);
  if (isDropped && target) swap(ended.n, Number(target.dataset.n));
}

function placeUnder(event) {
  return document.elementsFromPoint(event.clientX, event.clientY).find((element) => element.classList.contains("place"));
}

function makeGhost(n) {
  const box = placeAt(n).getBoundingClientRect();
  const whole = byId("preview").getBoundingClientRect();
  const ghost = make("div", { class: "ghost" });
  Object.assign(ghost.style, {
    width: `${box.width}px`, height: `${box.height}px`, backgroundImage: `url("${byId("preview").src}")`,
    backgroundSize: `${whole.width}px ${whole.height}px`, backgroundPosition: `${whole.left - box.left}px ${whole.top - box.top}px`,
  });
  document.body.append(ghost);
  return ghost;
}

function goTo(n) {
  placeAt(at)?.setAttribute("tabindex", "-1");
  at = n;
  placeAt(at).setAttribute("tabindex", "0");
  placeAt(at).focus();
}

function choose(n) {
  goTo(n);
  pickOrSwap(n);
}

cloth.addEventListener("keydown", (event) => {
  if (!look?.cells) return;
  const { row, column } = look.cells[at];
  const [down, right] = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] }[event.key] || [0, 0];
  const target = look.cells.findIndex((cell) => cell.row === row + down && cell.column === column + right);
  if ((down || right) && target >= 0) { event.preventDefault(); goTo(target); }
  if (event.key === "Escape") letGo();
});

for (const walk of ["undo", "redo"]) byId(walk).addEventListener("click", () => past[walk]());
addEventListener("keydown", (event) => {
  const walk = event.target.closest("input, select") ? null : walkOf(event);
  if (walk) { event.preventDefault(); past[walk](); }
});
byId("anew").addEventListener("click", () => change("/api/quilt/anew", {}, "laying out anew"));

// -- the form ---------------------------------------------------------------------------------------

const form = byId("form");
const WORDS = ["block", "strips", "drop", "size", "sashing", "borders", "cloth_width", "straightening", "shrinkage", "interfacing_width", "backing_width", "binding_width", "seam_take_up"];
const CHOICES = ["construction", "first_side", "direction", "bed", "arrangement", "scheme", "turning", "shop", "interfacing", "pressing", "paper"];
const COUNTS = ["rows", "columns"];
const CHECKS = ["outer_sash", "corner_squares", "motifs_only"];
const PARTS = ["sash_fabric", "border_fabric", "binding_fabric", "plain_fabric"];
const ANY_NUMBER = ["rounds", "own"]; // schemes that take as many fabrics as there are
const MOST_FABRICS = 12;
const touched = new Set(); // fields with a wish that was not sent yet: they keep it
const NEW_COLOURS = ["#b98a7a", "#7d6b8a", "#8a9a7b", "#c9b79b"];

function fillForm() {
  const { elements } = form;
  const fill = (name, value, part = "value") => { if (!touched.has(elements[name])) elements[name][part] = value; };
  for (const name of [...WORDS, ...CHOICES]) fill(name, look.form[name]);
  for (const name of WORDS) elements[name].placeholder = look.usual[name] ?? { strips: "chosen for you", borders: "none" }[name];
  for (const name of COUNTS) fill(name, look.form[name] || "");
  for (const name of CHECKS) fill(name, look.form[name], "checked");
  for (const name of PARTS) look.parts[name].forEach((value, n) => fill(n ? `${name}_colour` : name, value));
  if (![...touched].some((field) => byId("fabrics").contains(field))) drawFabrics();
  settle();
}

function drawFabrics() {
  byId("fabrics").replaceChildren(...look.fabrics.map(([name, colour], n) => make("div", {},
    make("label", { class: "wide" }, look.fabrics.length > 1 ? `Strips, fabric ${n + 1}` : "Strips", make("input", { type: "text", name: "fabric", value: name, maxlength: "80", autocomplete: "off" })),
    make("input", { type: "color", name: "colour", value: colour, "aria-label": `Colour of the strips' fabric ${n + 1}` }))));
  const isFree = ANY_NUMBER.includes(look.form.scheme);
  byId("more-fabric").hidden = !isFree || look.fabrics.length >= MOST_FABRICS;
  byId("less-fabric").hidden = !isFree || look.fabrics.length < 2;
}

/** Fields that say nothing beside others are put out of use. */
function settle() {
  const { elements } = form;
  elements.turning.disabled = elements.scheme.value !== "halves";
  elements.drop.disabled = !elements.bed.value;
  elements.size.disabled = Boolean(elements.bed.value);
}

function shownFabrics() {
  const colours = [...form.querySelectorAll("[name=colour]")].map((input) => input.value);
  return [...form.querySelectorAll("[name=fabric]")].map((input, n) => [input.value.trim(), colours[n]]);
}

const isSame = (one, other) => JSON.stringify(one) === JSON.stringify(other);

function readForm(fabrics = shownFabrics()) {
  const { elements } = form;
  const values = { seed: look.form.seed };
  for (const name of WORDS) values[name] = elements[name].disabled ? "" : elements[name].value.trim();
  for (const name of CHOICES) values[name] = elements[name].value;
  for (const name of COUNTS) values[name] = Number(elements[name].value) || 0;
  for (const name of CHECKS) values[name] = elements[name].checked;
  // what was not changed is left to the program, so that another scheme brings its own fabrics
  for (const name of PARTS) {
    const part = [elements[name].value.trim(), elements[`${name}_colour`].value];
    values[name] = isSame(part, look.parts[name]) ? look.form[name] : part;
  }
  if (values.scheme === look.form.scheme) values.fabrics = isSame(fabrics, look.fabrics) ? look.form.fabrics : fabrics;
  else values.fabrics = values.scheme === "own" ? fabrics : [];
  return values;
}

async function plan(values, what = "the wishes") {
  const sent = [...touched];
  touched.clear();
  if (!await change("/api/quilt/form", values, what)) for (const field of sent) touched.add(field);
}

form.addEventListener("submit", (event) => { event.preventDefault(); plan(readForm()); });
form.addEventListener("reset", (event) => { event.preventDefault(); plan({}, "going back to the usual wishes"); });
form.elements.scheme.addEventListener("change", () => plan(readForm(), "the fabrics' scheme"));
form.addEventListener("input", (event) => touched.add(event.target));
form.elements.bed.addEventListener("change", settle);
byId("more-fabric").addEventListener("click", () => {
  const fabrics = shownFabrics();
  plan(readForm([...fabrics, [`fabric ${fabrics.length + 1}`, NEW_COLOURS[fabrics.length % NEW_COLOURS.length]]]), "one fabric more");
});
byId("less-fabric").addEventListener("click", () => plan(readForm(shownFabrics().slice(0, -1)), "one fabric less"));

take(await attempt(() => ask("/api/quilt")));
