import { ask, attempt, byId, make, mention, tell } from "./talk.js";

const GREATEST_HEIGHT = 0.82; // of the window, for the quilt
let look = null;
let held = null; // the place whose block was picked up by key or click
let at = 0; // the place that Tab reaches
const undos = [];

// -- what is shown ------------------------------------------------------------------------------

function take(fresh) {
  if (!fresh) return;
  look = fresh;
  held = null;
  byId("trouble").hidden = !look.trouble;
  byId("trouble").textContent = look.trouble;
  byId("plan").hidden = false;
  fillForm();
  const isPlanned = !look.trouble;
  for (const section of document.querySelectorAll("#plan > section:not(.wishes)")) section.hidden = !isPlanned;
  if (isPlanned) { drawQuilt(); drawLists(); }
  byId("undo").disabled = undos.length === 0;
}

function drawQuilt() {
  const cloth = byId("quilt");
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

const placeAt = (n) => byId("quilt").querySelector(`[data-n="${n}"]`);

function drawLists() {
  const line = (cells, numbers = []) => make("tr", {}, ...cells.map((cell, n) => make(n === 0 ? "th" : "td", { ...(n === 0 ? { scope: "row" } : {}), class: numbers.includes(n) ? "number" : null }, cell)));
  byId("block-words").textContent = look.blocks;
  byId("shopping").replaceChildren(...look.shopping.map((cells) => line(cells)));
  byId("cutting").replaceChildren(...look.cutting.flatMap(({ fabric, colour, lines }) => lines.map(([strips, width, yields]) => {
    const swatch = make("span", { class: "swatch", "aria-hidden": "true" });
    swatch.style.background = colour;
    return line([make("span", {}, swatch, fabric), `${strips}`, width, yields], [1]);
  })));
  const left = look.left_out.map(([photo, reason]) => ({ severity: "note", text: `${photo} gives no block: ${reason}` }));
  const spare = look.spare.map((photo) => ({ severity: "note", text: `${photo} has no place in this grid.` }));
  const other = look.grids.map((words) => ({ severity: "note", text: `Another grid: ${words}.` }));
  byId("messages").replaceChildren(...[...look.messages, ...left, ...spare, ...other].map(({ severity, text }) => make("li", { class: severity }, text)));
  byId("cautions").replaceChildren(...[...look.extensions.map((text) => `Extension piece: ${text}`), ...look.cautions].map((text) => make("li", {}, text)));
}

// -- swapping -------------------------------------------------------------------------------------

async function swap(one, other) {
  letGo();
  if (one === other) return;
  const place = (n) => [look.cells[n].row, look.cells[n].column];
  const before = look.places;
  byId("quilt").classList.add("busy");
  at = other;
  const fresh = await attempt(() => tell("/api/quilt/swap", { one: place(one), other: place(other) }));
  byId("quilt").classList.remove("busy");
  if (!fresh) return;
  undos.push(before);
  const [here, there] = [look.cells[one], look.cells[other]];
  take(fresh);
  mention(`Swapped ${here.name || "a plain block"} and ${there.name || "a plain block"}. Blocks now stay where they are.`);
}

function letGo() {
  if (held !== null) placeAt(held)?.setAttribute("aria-pressed", "false");
  held = null;
}

function pickOrSwap(n) {
  if (held === null) { held = n; placeAt(n).setAttribute("aria-pressed", "true"); return; }
  swap(held, n);
}

const cloth = byId("quilt");
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
  if (event.key === "Enter" || event.key === " ") { event.preventDefault(); pickOrSwap(at); }
  if (event.key === "Escape") letGo();
});

async function undo() {
  const before = undos.pop();
  if (!before) return;
  take(await attempt(() => tell("/api/quilt/places", { places: before })));
  mention("Undone.");
}

byId("undo").addEventListener("click", undo);
addEventListener("keydown", (event) => {
  if ((event.ctrlKey || event.metaKey) && event.key === "z" && !event.target.closest("input")) { event.preventDefault(); undo(); }
});
byId("anew").addEventListener("click", async () => {
  const before = look.places;
  cloth.classList.add("busy");
  const fresh = await attempt(() => tell("/api/quilt/anew"));
  cloth.classList.remove("busy");
  if (fresh) { undos.push(before); take(fresh); }
});

// -- the form ---------------------------------------------------------------------------------------

const form = byId("form");

function fillForm() {
  for (const name of ["block", "strips", "construction", "size", "sashing", "borders", "scheme", "turning", "paper"]) form.elements[name].value = look.form[name];
  for (const name of ["rows", "columns"]) form.elements[name].value = look.form[name] || "";
  form.elements.turning.disabled = look.form.scheme !== "halves";
  byId("fabrics").replaceChildren(...look.fabrics.map(([name, colour], n) => make("div", {},
    make("label", { class: "wide" }, `Fabric ${n + 1}`, make("input", { type: "text", name: "fabric", value: name, maxlength: "80", autocomplete: "off" })),
    make("input", { type: "color", name: "colour", value: colour, "aria-label": `Colour of fabric ${n + 1}` }))));
}

function readForm() {
  const values = {};
  for (const name of ["block", "strips", "construction", "size", "sashing", "borders", "scheme", "turning", "paper"]) values[name] = form.elements[name].value.trim();
  for (const name of ["rows", "columns"]) values[name] = Number(form.elements[name].value) || 0;
  const colours = [...form.querySelectorAll("[name=colour]")].map((input) => input.value);
  const fabrics = [...form.querySelectorAll("[name=fabric]")].map((input, n) => [input.value.trim(), colours[n]]);
  // another scheme has other fabrics: those of the old one say nothing about it
  const isSame = values.scheme === look.form.scheme && JSON.stringify(fabrics) === JSON.stringify(look.fabrics);
  values.fabrics = values.scheme !== look.form.scheme ? [] : isSame ? look.form.fabrics : fabrics;
  values.seed = look.form.seed;
  return values;
}

async function plan(values) {
  cloth.classList.add("busy");
  const fresh = await attempt(() => tell("/api/quilt/form", values));
  cloth.classList.remove("busy");
  if (fresh) take(fresh);
}

form.addEventListener("submit", (event) => { event.preventDefault(); plan(readForm()); });
form.addEventListener("reset", (event) => { event.preventDefault(); plan({}); });
form.elements.scheme.addEventListener("change", () => plan(readForm()));

take(await attempt(() => ask("/api/quilt")));
