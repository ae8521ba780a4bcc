import { ICONS, ask, attempt, byId, make, mention, nameInPile, plural, sendPhoto, tell, unbroken } from "./talk.js";
import { once } from "./turns.js";

const KINDS = [ // each photo is one of these
  ["sized", "sized"], ["accepted", "accepted"], ["check", "to check"], ["cuts", "do not cut"],
  ["no-motif", "no motif"], ["refused", "not measured"], ["left-out", "not in the quilt"],
];
const QUIET = 4; // modules left white round a code, as the norm asks (ISO/IEC 18004)
const tiles = new Map();
let pile = { photos: [], measuring: [], sizes: [], gone: [], strays: [], trouble: "", sizes_in_use: "" };
let kind = sessionStorage.getItem("kind") || "all";
let size = "all";

const isOf = (photo, name) => name === "all" || (name === "eye" ? photo.needs_an_eye : photo.kind === name);

function words(photo) {
  const list = [];
  const accepted = photo.is_accepted ? make("p", { class: "accepted" }, "\u2714 accepted by you") : null;
  const badge = make("p", { class: `badge is-${photo.outcome}` },
    make("span", { "aria-hidden": "true" }, `${ICONS[photo.outcome]} `),
    Object.fromEntries(KINDS)[photo.outcome]);
  list.push(photo.kind === "accepted" ? accepted : badge); // what was to check is not any more
  if (photo.finished) {
    list.push(make("p", { class: "sizes-line" }, "Finished ", make("strong", {}, photo.finished), `, cut ${photo.cut}`));
  }
  if (photo.clearance) list.push(make("p", {}, `Motif to seam: ${photo.clearance}`));
  if (photo.brief) list.push(make("p", { class: "brief" }, photo.brief));
  if (photo.flags.length || photo.note) {
    list.push(make("p", {}, ...photo.flags.map((flag) => make("span", { class: "flag" }, flag)),
      photo.note ? make("bdi", {}, ` ${photo.note}`) : ""));
  }
  if (!photo.counts) list.push(make("p", { class: "brief" }, "Not counted in the quilt"));
  if (accepted && !list.includes(accepted)) list.push(accepted);
  return list;
}

function fill(tile, photo) {
  const stamp = JSON.stringify(photo);
  if (tile.stamp === stamp) return;
  tile.stamp = stamp;
  tile.element.className = `tile ${photo.counts ? photo.kind : photo.outcome}`;
  const name = photo.garment !== photo.photo.replace(/\.[^.]*$/, "") ? `${photo.garment} (${photo.photo})` : photo.photo;
  const picture = photo.picture
    ? make("img", { loading: "lazy", decoding: "async", alt: "", src: `/picture/${photo.key}/small.jpg?v=${photo.picture}` })
    : "no picture";
  tile.element.replaceChildren(
    make("div", { class: "picture" }, picture),
    make("div", { class: "words" }, make("a", { href: `/garment/${photo.key}` }, make("bdi", {}, name)), ...words(photo)));
}

function sorted(photos) {
  const order = byId("order").value;
  const by = { rank: (p) => p.rank, name: () => 0, size: (p) => p.finished_mm ?? 1e9 }[order];
  return [...photos].sort((a, b) => by(a) - by(b));
}

function chips(place, entries, chosen, choose) {
  const stamp = JSON.stringify([entries, chosen]);
  if (place.dataset.stamp === stamp) return;
  const hadFocus = place.contains(document.activeElement) ? document.activeElement.value : null;
  place.dataset.stamp = stamp;
  const chip = (value, label) => make("label", {},
    make("input", { type: "radio", name: place.id, value, checked: value === chosen, onchange: () => choose(value) }), label);
  place.replaceChildren(...entries.map((entry) => (typeof entry === "string" ? make("span", { class: "soft" }, entry) : chip(...entry))));
  if (hadFocus !== null) place.querySelector(`input[value="${CSS.escape(hadFocus)}"]`)?.focus();
}

function draw() {
  const photos = pile.photos;
  const count = (name) => photos.filter((photo) => isOf(photo, name)).length;
  const eye = count("eye");
  byId("summary").textContent = photos.length + pile.measuring.length === 0
    ? "No photos yet."
    : `${plural(photos.length, "photo")}; ${eye ? `${eye} need${eye === 1 ? "s" : ""} your eye` : "none needs your eye"}`
      + `${pile.measuring.length ? `; measuring ${pile.measuring.length} more` : ""}.`;
  if (kind !== "all" && !count(kind)) kind = "all";
  const counted = (kinds) => kinds.filter(([name]) => count(name)).map(([name, label]) => [name, `${label} (${count(name)})`]);
  chips(byId("kinds"), [["all", `all (${photos.length})`], ...counted([["eye", "needs your eye"]]), "by outcome:", ...counted(KINDS)], kind,
  (value) => { kind = value; sessionStorage.setItem("kind", value); draw(); });
  const sizes = [...new Map(photos.filter((p) => p.finished).map((p) => [p.finished, p.finished_mm]))].sort((a, b) => a[1] - b[1]);
  if (size !== "all" && !sizes.some(([name]) => name === size)) size = "all";
  chips(byId("sizes"), [["all", "all"], ...sizes.map(([name]) => [name, name])], size, (value) => { size = value; draw(); });
  const shown = sorted(photos.filter((photo) => isOf(photo, kind) && (size === "all" || photo.finished === size)));
  const elements = shown.map((photo) => {
    if (!tiles.has(photo.key)) tiles.set(photo.key, { element: make("li"), stamp: "" });
    const tile = tiles.get(photo.key);
    fill(tile, photo);
    return tile.element;
  });
  const list = byId("tiles");
  if (elements.length !== list.children.length || elements.some((element, n) => element !== list.children[n])) list.replaceChildren(...elements);
  byId("shown").textContent = `${shown.length} of ${photos.length} photos shown`;
  for (const id of ["filters", "shown", "legend", "sets-section"]) byId(id).hidden = photos.length === 0;
  drawEmpty(shown.length);
  drawStart(eye);
  drawCounts();
  drawSizesInUse();
  drawNotices();
}

function drawEmpty(shown) {
  const words = pile.trouble || (pile.photos.length + pile.measuring.length === 0
    ? "This folder has no photos yet. Drop some above, or take them with a phone."
    : pile.measuring.length ? `Measuring ${plural(pile.measuring.length, "photo")}\u2026` : "");
  byId("empty").textContent = words;
  byId("empty").hidden = !words || (shown > 0 && !pile.trouble && !pile.measuring.length);
}

function drawNotices() {
  const words = [];
  if (pile.gone.length) words.push(`No longer in the folder; what was measured and said of them is kept: ${pile.gone.join(", ")}.`);
  if (pile.strays.length) words.push(`Left out, because they are links that lead out of the folder: ${pile.strays.join(", ")}.`);
  byId("notices").replaceChildren(...words.map((line) => make("li", { class: "note" }, line)));
}

function drawStart(eye) {
  const first = sorted(pile.photos).find((photo) => photo.needs_an_eye) || pile.photos[0];
  const start = byId("start");
  start.hidden = !first;
  if (!first) return;
  const urgent = pile.photos.filter((photo) => photo.needs_an_eye).sort((a, b) => a.rank - b.rank)[0] || first;
  start.href = `/garment/${urgent.key}`;
  start.textContent = eye ? `Look through the ${eye} that need${eye === 1 ? "s" : ""} your eye` : "Look through all";
}

function drawCounts() {
  byId("count-section").hidden = pile.sizes.length === 0;
  byId("counts").replaceChildren(...pile.sizes.map((line) => make("tr", {},
    make("th", { scope: "row" }, line.words), make("td", {}, line.cut),
    make("td", { class: "number" }, `${line.sure}`), make("td", { class: "number" }, `${line.open}`))));
}

async function look() {
  const fresh = await attempt(() => ask("/api/pile"));
  if (!fresh) return;
  pile = fresh;
  draw();
  // the sizes in use change here, in another window, or while all photos are still being answered
  if (!byId("sets").hidden && comparedWith !== pile.sizes_in_use) await compare();
}

async function refresh() {
  await look();
  setTimeout(refresh, document.hidden ? 15000 : pile.measuring.length ? 1500 : 5000);
}

// photos that come in, two at a time
const waiting = [];
let busy = 0;

function enqueue(files) {
  for (const file of files) {
    const bar = make("progress", { max: "1", value: "0", "aria-label": `Progress of ${file.name}` });
    const state = make("span", {}, "waiting");
    byId("uploads").append(make("li", {}, make("bdi", {}, file.name), bar, state));
    waiting.push({ file, bar, state });
  }
  while (busy < 2 && waiting.length) next();
}

async function next() {
  const { file, bar, state } = waiting.shift();
  busy += 1;
  try {
    state.textContent = "copying";
    const photo = await sendPhoto(file, (part) => {
      if (part < 1) bar.value = part;
      else { bar.removeAttribute("value"); state.textContent = "measuring\u2026"; }
    });
    bar.value = 1;
    state.replaceChildren(make("a", { href: `/garment/${photo.key}` }, photo.headline));
  } catch (error) {
    bar.value = 0;
    state.textContent = `Not taken: ${error.message}`;
    state.className = "is-refused";
  }
  busy -= 1;
  await look();
  if (waiting.length) next();
}

const drop = byId("drop");
addEventListener("dragover", (event) => { event.preventDefault(); drop.classList.add("over"); });
addEventListener("dragleave", (event) => { if (!event.relatedTarget) drop.classList.remove("over"); });
addEventListener("drop", (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  if (event.dataTransfer?.files.length) enqueue(event.dataTransfer.files);
});
byId("files").addEventListener("change", (event) => { enqueue(event.target.files); event.target.value = ""; });
byId("filters").addEventListener("submit", (event) => event.preventDefault());
byId("order").addEventListener("change", draw);

byId("phone-link").addEventListener("click", () => attempt(async () => {
  const link = await tell("/api/links");
  byId("link-words").textContent = link.is_far
    ? "Scan this with a phone on the same network. Anyone who has the link on this network can see the photos. It works once."
    : "Open this in another browser on this computer. It works once. For phones, start the program with --lan.";
  byId("link-text").textContent = link.link;
  byId("link-text").href = link.link;
  const code = byId("link-code");
  const side = link.code.length;
  const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
  path.setAttribute("d", link.code.flatMap((row, y) => [...row].map((dark, x) => (dark === "1" ? `M${x + QUIET} ${y + QUIET}h1v1h-1z` : ""))).join(""));
  path.setAttribute("fill", "#000");
  code.setAttribute("viewBox", `0 0 ${side + 2 * QUIET} ${side + 2 * QUIET}`);
  code.replaceChildren(path);
  code.removeAttribute("hidden");
  byId("link-dialog").showModal();
}));

// which sizes

const HEADS = ["Set", "", "Safe", "To check", "Would be cut", "Need an extension", "Spare, on average"];

let comparedWith = "";

async function compare() {
  comparedWith = pile.sizes_in_use;
  const own = byId("own-sizes").value.trim();
  mention("Comparing\u2026");
  const compared = await attempt(() => ask(`/api/sizes?own=${encodeURIComponent(own)}`));
  if (!compared) return;
  const { garments, without, sets, outsize } = compared;
  byId("sets").replaceChildren(
    make("p", {}, `${plural(garments, "garment")} with a motif${without ? `; ${without} without one or not measured are left out` : ""}.`),
    outsize ? outsizeWords(outsize) : "",
    make("table", {},
      make("thead", {}, make("tr", {}, ...HEADS.map((head, n) => (head ? make("th", { scope: "col", class: n > 1 ? "number" : null }, head) : make("td"))))),
      make("tbody", {}, ...sets.map(setLine))));
  byId("sets").hidden = false;
  mention(`${plural(sets.length, "set")} compared.`);
}

const linkTo = ({ photo, key }) => make("a", { href: `/garment/${key}` }, make("bdi", {}, photo));

function outsizeWords({ garments, for_all: forAll }) {
  const links = garments.flatMap((garment, n) => [n ? ", " : "", linkTo(garment), ` (${unbroken(garment.least)})`]);
  const [them, each] = garments.length === 1 ? ["it", "there"] : ["them", "on each page"];
  return make("p", {}, "Left out of the proposal, and so without a block: ", ...links, `. With ${them} the set would be ${unbroken(forAll)}, the last line. To plan without ${them}, say ${each} "no, leave it out" under "In the quilt".`);
}

function setLine(one) {
  const number = (...words) => make("td", { class: "number" }, ...words);
  const fails = one.fails.length ? make("details", {}, make("summary", {}, "which"), make("ul", {}, ...one.fails.map((garment) => make("li", {}, linkTo(garment), ` (${unbroken(garment.least)})`)))) : null;
  return make("tr", { class: one.is_proposed ? "proposed" : null },
    make("th", { scope: "row" }, one.is_proposed ? `${one.name} (proposed)` : one.name, make("br"), make("span", { class: "sizes" }, unbroken(one.sizes))),
    make("td", {}, one.is_used ? "\u2714 in use" : make("button", { type: "button", "aria-label": `Use these sizes: ${one.sizes}`, onclick: () => useSizes(one.sizes_mm) }, "Use these sizes")),
    number(`${one.fit}`), number(`${one.check}`), number(`${one.cut}`, fails), number(`${one.extend}`), number(one.spare));
}

const SIZES_BEFORE = nameInPile("sizes before");
const sizesBefore = JSON.parse(sessionStorage.getItem(SIZES_BEFORE) || "[]");

const useSizes = once(async (sizesMm, isBack = false) => {
  mention("Answering all photos for these sizes\u2026");
  const told = await attempt(() => tell("/api/sizes/use", { sizes_mm: sizesMm }));
  if (!told) return;
  if (isBack) sizesBefore.pop();
  else sizesBefore.push({ mm: told.before_mm, words: told.before_words });
  sessionStorage.setItem(SIZES_BEFORE, JSON.stringify(sizesBefore));
  await look();
  mention(`In use: ${told.words}. ${told.changed === 1 ? "1 square" : `${told.changed} squares`} changed; what you accepted still counts where the square stayed.`);
});

function drawSizesInUse() {
  byId("sizes-in-use").textContent = pile.sizes_in_use;
  const last = sizesBefore.at(-1);
  byId("sizes-back").hidden = !last;
  byId("sizes-back").textContent = last ? `Back to ${last.words}` : "";
}

byId("sizes-back").addEventListener("click", () => useSizes(sizesBefore.at(-1).mm, true));
byId("sets-form").addEventListener("submit", (event) => { event.preventDefault(); compare(); });

refresh();
