// The garment's picture with its lines: zoom, drag, turn, draw. Lengths are mm, angles degrees
// clockwise, both in the garment's upright frame.

const SVG = "http://www.w3.org/2000/svg";
const LEAST_MM = 3;
const SIDES = ["top", "right", "bottom", "left"];
const CORNERS = ["top left", "top right", "bottom right", "bottom left"];

export function shape(name, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

export function turned([x, y], degrees) {
  const [c, s] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
  return [c * x - s * y, s * x + c * y];
}

export function cornersOf({ middle, width, height, angle }) {
  return [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([sx, sy]) => {
    const [x, y] = turned([(sx * width) / 2, (sy * height) / 2], angle);
    return [middle[0] + x, middle[1] + y];
  });
}

/** A box with edges moved by `by` (left, top, right, bottom), never less than LEAST_MM wide. */
function stretched(box, by) {
  const halfWidth = box.width / 2;
  const halfHeight = box.height / 2;
  let [left, top, right, bottom] = [-halfWidth + by[0], -halfHeight + by[1], halfWidth + by[2], halfHeight + by[3]];
  if (right - left < LEAST_MM) { if (by[0]) left = right - LEAST_MM; else right = left + LEAST_MM; }
  if (bottom - top < LEAST_MM) { if (by[1]) top = bottom - LEAST_MM; else bottom = top + LEAST_MM; }
  const [x, y] = turned([(left + right) / 2, (top + bottom) / 2], box.angle);
  return { ...box, middle: [box.middle[0] + x, box.middle[1] + y], width: right - left, height: bottom - top };
}

/** What a part becomes when it is moved by (dx, dy). */
export function moved(part, start, dx, dy) {
  if (part === "box" || part === "window") {
    return { ...start, middle: [start.middle[0] + dx, start.middle[1] + dy] };
  }
  const [x, y] = turned([dx, dy], -start.angle);
  return stretched(start, [
    part.includes("left") ? x : 0, part.includes("top") ? y : 0,
    part.includes("right") ? x : 0, part.includes("bottom") ? y : 0,
  ]);
}

const points = (list) => list.map(([x, y]) => `${x},${y}`).join(" ");
const mean = (a, b) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
const cursorOf = (name) => ({ top: "ns", bottom: "ns", left: "ew", right: "ew", "top left": "nwse", "bottom right": "nwse", "top right": "nesw", "bottom left": "nesw" }[name]);

export class Board {
  /** `on` has: start(), change(part, value), end(), cancel(), press(part, event), pick(rank), drawing(wanted). */
  constructor(svg, on) {
    this.svg = svg;
    this.on = on;
    this.pointers = new Map();
    this.drag = null;
    this.isDrawing = false;
    this.layers = Object.fromEntries(["photo", "lines", "handles"].map((name) => [name, shape("g")]));
    this.svg.append(...Object.values(this.layers));
    svg.addEventListener("pointerdown", (event) => this.down(event));
    svg.addEventListener("pointermove", (event) => this.move(event));
    svg.addEventListener("pointerup", (event) => this.up(event));
    svg.addEventListener("pointercancel", (event) => { if (this.hasLet(event)) this.cancel(); });
    svg.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
    svg.addEventListener("keydown", (event) => {
      const part = event.target.closest?.("[data-part]")?.dataset.part;
      if (part) this.on.press(part, event);
    });
    new ResizeObserver(() => this.applyView()).observe(svg);
  }

  open(frame, address) {
    this.frame = frame;
    this.layers.photo.replaceChildren(
      shape("image", { href: address, x: frame.left, y: frame.top, width: frame.width, height: frame.height, preserveAspectRatio: "none" }),
      shape("polygon", { class: "outline", points: points(frame.outline) }));
    this.layers.handles.replaceChildren();
    this.handles = null;
    this.showAll();
  }

  clear() {
    this.takeDrag();
    for (const layer of Object.values(this.layers)) layer.replaceChildren();
    this.handles = null;
    this.frame = null;
  }

  // -- what is seen ---------------------------------------------------------------------------

  showAll() {
    const { left, top, width, height } = this.frame;
    this.view = { middle: [left + width / 2, top + height / 2], span: [width, height] };
    this.applyView();
  }

  showAround(window, box) {
    const corners = [...(window ? window.cut_corners : []), ...(box ? cornersOf(box) : [])];
    if (!corners.length) return;
    const [xs, ys] = [corners.map((p) => p[0]), corners.map((p) => p[1])];
    const span = [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
    this.view = { middle: [(Math.max(...xs) + Math.min(...xs)) / 2, (Math.max(...ys) + Math.min(...ys)) / 2], span: span.map((side) => side * 1.25) };
    this.applyView();
  }

  zoom(factor, at = this.view?.middle) {
    if (!this.view) return;
    const widest = 3 * Math.max(this.frame.width, this.frame.height);
    const span = this.view.span.map((side) => side / factor);
    if (Math.max(...span) > widest || Math.min(...span) < 10) return;
    this.view = { span, middle: this.view.middle.map((side, n) => at[n] + (side - at[n]) / factor) };
    this.applyView();
  }

  applyView() {
    if (!this.view) return;
    const { clientWidth: width, clientHeight: height } = this.svg;
    this.mmPerPx = Math.max(this.view.span[0] / width, this.view.span[1] / height) || 1;
    const [w, h] = [width * this.mmPerPx, height * this.mmPerPx];
    this.svg.setAttribute("viewBox", `${this.view.middle[0] - w / 2} ${this.view.middle[1] - h / 2} ${w} ${h}`);
    if (this.drawn) this.draw(this.drawn);
  }

  // -- lines and handles ----------------------------------------------------------------------

  draw(state) {
    this.drawn = state;
    const { box, window, motifs, own, picked } = state;
    const lines = [];
    if (window) {
      const outer = `M-9999-9999H9999V9999H-9999Z`;
      lines.push(shape("path", { class: "shade", d: `${outer}M${window.cut_corners.map((p) => p.join(" ")).join("L")}Z` }));
    }
    motifs.forEach((other, rank) => {
      if (rank === picked) return;
      lines.push(this.line("other-line", cornersOf(other)), this.tag(other, rank, () => this.on.pick(rank)));
    });
    if (own) lines.push(this.line("own-line", own));
    if (window) lines.push(this.line("cut-line", window.cut_corners), this.line("seam-line", window.seam_corners));
    if (box) lines.push(this.line("motif-line", cornersOf(box)));
    this.layers.lines.replaceChildren(...lines);
    this.placeHandles(state);
  }

  line(name, corners) {
    return shape("g", { class: name },
      shape("polygon", { class: "casing", points: points(corners) }),
      shape("polygon", { class: "core", points: points(corners) }));
  }

  tag(box, rank, choose) {
    const [x, y] = cornersOf(box)[0];
    const tag = shape("g", { class: "other", "aria-hidden": "true" },
      shape("polygon", { class: "grab", points: points(cornersOf(box)), cursor: "pointer" }),
      shape("text", { class: "number-tag", x: x + 6 * this.mmPerPx, y: y + 20 * this.mmPerPx, "font-size": 18 * this.mmPerPx }));
    tag.lastChild.textContent = `${rank + 1}`;
    tag.addEventListener("click", choose);
    return tag;
  }

  /** Handles are made once and moved, so that they keep the focus. */
  placeHandles({ box, window, words }) {
    if (!this.handles) this.makeHandles();
    const px = this.mmPerPx;
    const { handles } = this;
    for (const [part, handle] of handles) handle.group.toggleAttribute("hidden", !(part.startsWith("window") || part === "turn" ? window : box));
    for (const handle of handles.values()) handle.group.style.display = handle.group.hasAttribute("hidden") ? "none" : "";
    if (window) {
      const corners = window.cut_corners;
      const up = turned([0, -1], window.angle);
      this.outline("window", corners, words.window);
      const top = mean(corners[0], corners[1]);
      this.dot("window grip", [top[0] + 24 * px * up[0], top[1] + 24 * px * up[1]], 9);
      const right = turned([1, -1], window.angle);
      this.dot("turn", [corners[1][0] + 18 * px * right[0], corners[1][1] + 18 * px * right[1]], 9);
    }
    if (box) {
      const corners = cornersOf(box);
      this.outline("box", corners, words.box);
      SIDES.forEach((side, n) => this.edge(side, corners[n], corners[(n + 1) % 4], words[side]));
      CORNERS.forEach((name, n) => this.dot(name, corners[n], 7));
    }
  }

  makeHandles() {
    this.handles = new Map();
    const add = (part, kind, cursor, isReached) => {
      const group = shape("g", { class: `handle ${cursor}`, "data-part": part });
      const forms = kind === "dot"
        ? [shape("circle", { class: "grab" }), shape("circle", { class: "knob" })]
        : [shape(kind, { class: "focus" }), shape(kind, { class: "focus inner" }), shape(kind, { class: `grab ${part === "box" ? "" : "edge"}` })];
      group.append(...forms);
      if (isReached) { group.setAttribute("tabindex", "0"); group.setAttribute("role", "button"); }
      else group.setAttribute("aria-hidden", "true");
      this.handles.set(part, { group, forms });
      this.layers.handles.append(group);
    };
    add("window", "polygon", "", true);
    add("window grip", "dot", "", false);
    add("box", "polygon", "", true);
    for (const side of SIDES) add(side, "line", cursorOf(side), true);
    for (const corner of CORNERS) add(corner, "dot", cursorOf(corner), false);
    add("turn", "dot", "turn", false);
  }

  outline(part, corners, words) {
    const { group, forms } = this.handles.get(part);
    for (const form of forms) form.setAttribute("points", points(corners));
    group.setAttribute("aria-label", words);
  }

  edge(part, from, to, words) {
    const { group, forms } = this.handles.get(part);
    for (const form of forms) {
      form.setAttribute("x1", from[0]); form.setAttribute("y1", from[1]);
      form.setAttribute("x2", to[0]); form.setAttribute("y2", to[1]);
    }
    group.setAttribute("aria-label", words);
  }

  dot(part, [x, y], radius) {
    const { forms } = this.handles.get(part);
    forms.forEach((form, n) => {
      form.setAttribute("cx", x); form.setAttribute("cy", y);
      form.setAttribute("r", (n ? radius : 20) * this.mmPerPx);
    });
  }

  // -- pointer --------------------------------------------------------------------------------

  at(event) {
    const place = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [place.x, place.y];
  }

  down(event) {
    if (!this.frame || event.button !== 0) return;
    this.pointers.set(event.pointerId, event);
    if (this.pointers.size === 2) { this.startPinch(); return; }
    if (this.pointers.size > 2 || event.target.closest(".other")) return;
    const part = event.target.closest("[data-part]")?.dataset.part;
    const at = this.at(event);
    if (this.isDrawing) this.drag = { kind: "rubber", at };
    else if (part) {
      this.on.start();
      this.drag = { kind: "part", part: part.replace(" grip", ""), at, start: this.startOf(part) };
    } else this.drag = { kind: "pan", client: [event.clientX, event.clientY], middle: this.view.middle };
    this.svg.setPointerCapture(event.pointerId);
    event.preventDefault();
    event.target.closest("[tabindex]")?.focus({ preventScroll: true, focusVisible: false });
  }

  startOf(part) {
    return part === "turn" || part.startsWith("window") ? this.drawn.window : this.drawn.box;
  }

  move(event) {
    if (!this.pointers.has(event.pointerId)) return;
    this.pointers.set(event.pointerId, event);
    if (this.pinch) { this.pinchMove(); return; }
    const { drag } = this;
    if (!drag) return;
    if (drag.kind === "pan") {
      this.view.middle = drag.middle.map((side, n) => side - ([event.clientX, event.clientY][n] - drag.client[n]) * this.mmPerPx);
      this.applyView();
      return;
    }
    const at = this.at(event);
    drag.isMoved ||= Math.hypot(at[0] - drag.at[0], at[1] - drag.at[1]) > 2 * this.mmPerPx;
    if (!drag.isMoved) return;
    if (drag.kind === "rubber") this.rubber(drag.at, at);
    else if (drag.part === "turn") this.on.change("window", this.turnedTo(drag, at));
    else this.on.change(drag.part, moved(drag.part, drag.start, at[0] - drag.at[0], at[1] - drag.at[1]));
  }

  turnedTo({ at, start }, to) {
    const angle = (place) => (Math.atan2(place[1] - start.middle[1], place[0] - start.middle[0]) * 180) / Math.PI;
    const turn = start.angle + angle(to) - angle(at);
    const wrapped = ((((turn + 180) % 360) + 360) % 360) - 180;
    return { ...start, angle: Math.abs(wrapped) < 0.8 ? 0 : wrapped };
  }

  up(event) {
    if (!this.hasLet(event)) return;
    const drag = this.takeDrag();
    if (!drag?.isMoved) return;
    if (drag.kind === "rubber") this.endRubber(drag.at, this.at(event));
    else if (drag.kind === "part") this.on.end();
  }

  /** Whether a pointer that left was one that may have dragged. */
  hasLet(event) {
    if (!this.pointers.delete(event.pointerId)) return false;
    if (!this.pinch) return true;
    if (this.pointers.size < 2) this.pinch = null;
    return false;
  }

  /** End the drag and return it. */
  takeDrag() {
    const { drag } = this;
    this.drag = null;
    this.rubberBand?.remove();
    return drag;
  }

  /** End the drag as if it had not begun. */
  cancel() {
    const drag = this.takeDrag();
    if (drag?.isMoved && drag.kind === "part") this.on.cancel();
  }

  rubber(from, to) {
    this.rubberBand?.remove();
    this.rubberBand = shape("rect", {
      class: "rubber", x: Math.min(from[0], to[0]), y: Math.min(from[1], to[1]),
      width: Math.abs(to[0] - from[0]), height: Math.abs(to[1] - from[1]),
    });
    this.svg.append(this.rubberBand);
  }

  endRubber(from, to) {
    const [width, height] = [Math.abs(to[0] - from[0]), Math.abs(to[1] - from[1])];
    this.setDrawing(false);
    if (Math.min(width, height) < LEAST_MM) return;
    this.on.change("box", { middle: mean(from, to), width, height, angle: 0 });
    this.on.end();
  }

  setDrawing(wanted) {
    this.isDrawing = wanted;
    this.svg.parentElement.classList.toggle("drawing", wanted);
    for (const layer of [this.layers.lines, this.layers.handles]) layer.style.pointerEvents = wanted ? "none" : "";
    this.on.drawing(wanted);
  }

  startPinch() {
    this.cancel();
    this.pinch = this.pinchState();
  }

  pinchState() {
    const [a, b] = [...this.pointers.values()];
    return { distance: Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY), centre: { clientX: (a.clientX + b.clientX) / 2, clientY: (a.clientY + b.clientY) / 2 } };
  }

  pinchMove() {
    const now = this.pinchState();
    const shift = ["clientX", "clientY"].map((axis) => (now.centre[axis] - this.pinch.centre[axis]) * this.mmPerPx);
    this.view.middle = this.view.middle.map((side, n) => side - shift[n]);
    this.applyView();
    this.zoom(now.distance / Math.max(this.pinch.distance, 1), this.at(now.centre));
    this.pinch = now;
  }

  wheel(event) {
    // the wheel scrolls the page where the page is long, as on a phone
    if (!this.view || (!event.ctrlKey && !matchMedia("(min-width: 62rem)").matches)) return;
    event.preventDefault();
    this.zoom(Math.exp(-event.deltaY / 400), this.at(event));
  }
}
