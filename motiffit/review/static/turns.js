// What must wait for its turn, or must not begin twice.

/** A queue of works, each begun when the one before it has ended, however it ended. */
export class Line {
  last = Promise.resolve();

  /** Put a work at the end; resolves to what it returns. */
  add(work) {
    this.last = this.last.then(work, work);
    return this.last;
  }

  /** Resolves when all that was put in by now has ended. */
  idle() { return this.last.then(() => {}, () => {}); }
}

/** The same work, but a second click while it is under way means the first. */
export function once(work) {
  let isUnderWay = false;
  return async (...words) => {
    if (isUnderWay) return;
    isUnderWay = true;
    try { await work(...words); } finally { isUnderWay = false; }
  };
}
