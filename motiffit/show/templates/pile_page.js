"use strict";
(() => {
  const form = document.querySelector(".filters");
  const list = document.querySelector(".garments");
  const garments = [...list.children];
  const cards = [...list.querySelectorAll(".card")];
  const status = form.querySelector(".shown");
  const empty = document.querySelector(".empty");

  const ticked = (name) => new Set(
    [...form.querySelectorAll(`input[name=${name}]:checked`)].map((box) => box.value));

  function filter() {
    const kinds = ticked("kind");
    const hasSizes = form.querySelector("input[name=size]") !== null;
    const sizes = ticked("size");
    const onlyEye = form.elements.eye.checked;
    let shown = 0;
    for (const card of cards) {
      const fits = kinds.has(card.dataset.kind)
        && (!hasSizes || sizes.has(card.dataset.size))
        && (!onlyEye || card.dataset.eye === "yes");
      card.hidden = !fits;
      shown += fits ? 1 : 0;
    }
    for (const garment of garments) {
      garment.hidden = [...garment.querySelectorAll(".card")].every((card) => card.hidden);
    }
    empty.hidden = shown > 0;
    status.textContent = `${shown} of ${cards.length} photos shown`;
  }

  function order() {
    const key = form.elements.order.value;
    const value = (garment) => Number(garment.dataset[key]);
    const sorted = [...garments].sort(
      (a, b) => value(a) - value(b) || a.dataset.name - b.dataset.name);
    list.append(...sorted);
  }

  // a link to a card that a filter hides shows it again
  function reveal() {
    const card = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (card && card.closest(".garment") && card.closest("[hidden]")) {
      form.reset();
      filter();
      order();
      card.scrollIntoView();
    }
  }

  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("change", () => { filter(); order(); });
  form.addEventListener("reset", () => setTimeout(() => { filter(); order(); }));
  addEventListener("hashchange", reveal);
  form.hidden = false;
  filter();
  order();
})();
