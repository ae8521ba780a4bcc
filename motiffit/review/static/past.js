// What was done, to be undone and done again; kept while the browser's tab lives.

import { byId, mention, nameInPile } from "./talk.js";
import { Line } from "./turns.js";

/** Which way a key leads: undo, redo or nowhere. */
export function walkOf(event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return null;
  const key = event.key.toLowerCase();
  if (key === "y" && !event.shiftKey) return "redo";
  if (key === "z") return event.shiftKey ? "redo" : "undo";
  return null;
}

export class Past {
  /** `restore(state)` brings a state back and returns the one that it took the place of, or null. */
  constructor(name, restore, most = 200) {
    this.name = nameInPile(`past of ${name}`);
    this.line = new Line();
    this.restore = restore;
    this.most = most;
    const kept = JSON.parse(sessionStorage.getItem(this.name) || "{}");
    this.done = kept.done || [];
    this.undone = kept.undone || [];
  }

  /** Note what a change took the place of; what was undone before is then gone. */
  add(state, what) {
    this.done = [...this.done, { state, what }].slice(-this.most);
    this.undone = [];
    this.keep();
  }

  /** Do one thing after the other, so that each takes the place of what the one before it left. */
  inTurn(work) { return this.line.add(work); }

  undo() { return this.inTurn(() => this.walk("done", "undone", "Undone", "undo")); }

  redo() { return this.inTurn(() => this.walk("undone", "done", "Done again", "redo")); }

  async walk(from, to, words, name) {
    const last = this[from].at(-1);
    if (!last) { mention(`There is nothing to ${name}.`); return; }
    const state = await this.restore(last.state);
    if (state === null) return;
    this[from] = this[from].filter((step) => step !== last);
    this[to].push({ state, what: last.what });
    this.keep();
    mention(`${words}: ${last.what}.`);
  }

  keep() {
    sessionStorage.setItem(this.name, JSON.stringify({ done: this.done, undone: this.undone }));
    this.draw();
  }

  /** Show on the buttons whether there is anything to undo or redo, and what. */
  draw() {
    for (const [id, list, word] of [["undo", this.done, "Undo"], ["redo", this.undone, "Redo"]]) {
      byId(id).disabled = list.length === 0;
      byId(id).title = list.length ? `${word}: ${list.at(-1).what}` : "";
    }
  }
}
