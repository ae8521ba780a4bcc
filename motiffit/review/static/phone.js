import { ICONS, ask, attempt, byId, make, mention, sendPhoto, tell } from "./talk.js";

const answer = byId("answer");

const verdict = ({ outcome, finished }) => ({ refused: "Take it again", cuts: "Do not cut" }[outcome] || (finished ? `Finished ${finished}` : "No square fits"));

function show(photo) {
  const good = photo.outcome === "sized" || photo.outcome === "no-motif";
  const again = photo.outcome === "refused";
  const address = `/garment/${photo.key}`;
  answer.replaceChildren(make("article", { class: "shot" },
    make("p", { class: `verdict-words is-${photo.outcome}` }, make("span", { "aria-hidden": "true" }, `${ICONS[photo.outcome]} `), verdict(photo)),
    photo.finished ? make("p", {}, `Cut ${photo.cut}${photo.clearance ? `; motif to seam: ${photo.clearance}` : ""}`) : null,
    ...photo.reasons.map((reason) => make("p", {}, reason)),
    photo.waits_for_side ? sideForm(photo) : null,
    photo.picture ? make("img", { src: `/picture/${photo.key}/small.jpg?v=${photo.picture}`, alt: photo.headline }) : null,
    make("p", {}, make("a", { class: "button", href: address }, good ? "Look at it closely" : again ? "Look at the photo" : "Look and correct")),
    make("p", { class: "soft" }, again ? "The bad photo stays in the folder but never counts." : "Next garment: take the next photo.")));
  byId("taken-section").hidden = false;
  byId("taken").prepend(make("li", {}, make("a", { href: address }, make("bdi", {}, photo.photo)), ` ${photo.headline}`));
}

/** A plain square in the photo may be measured from, once its size is known. */
function sideForm(photo) {
  const side = make("input", { type: "text", maxlength: "40", autocomplete: "off", autocapitalize: "off", placeholder: "3 in", value: localStorage.getItem("side") || "" });
  const form = make("form", { class: "row" }, make("label", { class: "wide" }, "How large is your square?", side), make("button", { type: "submit" }, "Measure with this"));
  form.addEventListener("submit", (event) => { event.preventDefault(); measureWith(photo, side.value.trim()); });
  return form;
}

async function measureWith(photo, side) {
  if (!side) return;
  mention("Measuring\u2026");
  const told = await attempt(() => tell(`/api/garments/${photo.key}/say`, { changes: { side }, revision: Number.MAX_SAFE_INTEGER }));
  if (!told) return;
  localStorage.setItem("side", side);
  const pile = await attempt(() => ask("/api/pile"));
  const fresh = pile?.photos.find((other) => other.key === photo.key);
  if (fresh) show(fresh);
}

async function take(files) {
  for (const file of files) {
    const bar = make("progress", { max: "1", value: "0", "aria-label": "Progress" });
    const words = make("p", {}, "Copying\u2026");
    answer.replaceChildren(make("article", { class: "shot" }, words, bar));
    // phones call every shot image.jpg; the time tells them apart
    const stamp = new Date().toISOString().slice(0, 19).replace(/[-:]/g, "").replace("T", "-");
    const named = /^image\.\w+$/i.test(file.name) ? new File([file], `photo-${stamp}.${file.name.split(".").pop()}`) : file;
    const photo = await attempt(() => sendPhoto(named, (part) => {
      if (part < 1) bar.value = part;
      else { bar.removeAttribute("value"); words.textContent = "Measuring\u2026"; }
    }));
    if (photo) show(photo); else answer.replaceChildren();
  }
}

for (const input of [byId("shot"), byId("album")]) {
  const chosen = async () => { const files = [...input.files]; input.value = ""; await take(files); };
  input.addEventListener("change", chosen);
  chosen(); // what was chosen while the page was still loading
}
