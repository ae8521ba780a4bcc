import { ICONS, attempt, byId, make, sendPhoto } from "./talk.js";

const answer = byId("answer");

function show(photo) {
  const good = photo.outcome === "sized" || photo.outcome === "no-motif";
  const again = photo.outcome === "refused";
  answer.replaceChildren(make("article", { class: "shot" },
    make("p", { class: `verdict-words is-${photo.outcome}` }, `${ICONS[photo.outcome]} `,
      again ? "Take it again" : photo.finished ? `Finished ${photo.finished}` : "No square fits"),
    photo.finished ? make("p", {}, `Cut ${photo.cut}${photo.clearance ? `; motif to seam ${photo.clearance}` : ""}`) : null,
    ...photo.reasons.map((reason) => make("p", {}, reason)),
    photo.picture ? make("img", { src: `/picture/${photo.key}/small.jpg?v=${photo.picture}`, alt: photo.headline }) : null,
    make("p", {}, make("a", { class: "button", href: `/garment/${photo.key}` }, good ? "Look at it closely" : "Look and correct")),
    make("p", { class: "soft" }, again ? "The bad photo stays in the folder but never counts." : "Next garment: take the next photo.")));
  byId("taken").prepend(make("li", {}, make("a", { href: `/garment/${photo.key}` }, make("bdi", {}, photo.photo)), ` ${photo.headline}`));
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

for (const id of ["shot", "album"]) {
  byId(id).addEventListener("change", async (event) => { const files = [...event.target.files]; event.target.value = ""; await take(files); });
}
