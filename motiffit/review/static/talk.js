// How the pages talk to the program, and to the person.

export class Trouble extends Error {}

async function answerOf(response) {
  const words = await response.text();
  let data = {};
  try { data = JSON.parse(words); } catch { data = { error: words }; }
  if (!response.ok) throw new Trouble(data.error || "The program did not answer.");
  return data;
}

async function reach(address, options) {
  try {
    return await fetch(address, { credentials: "same-origin", ...options });
  } catch {
    throw new Trouble("The program does not answer. Is 'motiffit review' still running?");
  }
}

export async function ask(address) {
  return answerOf(await reach(address, {}));
}

export async function tell(address, words = {}) {
  return answerOf(await reach(address, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(words),
  }));
}

/** Send a photo; `progress` is called with 0..1 while it travels and with 1 when it has arrived. */
export function sendPhoto(file, progress) {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    request.open("POST", `/api/photos?name=${encodeURIComponent(file.name)}`);
    request.setRequestHeader("Content-Type", "application/octet-stream");
    request.upload.onprogress = (event) => {
      if (event.lengthComputable) progress(event.loaded / event.total);
    };
    request.upload.onload = () => progress(1);
    request.onerror = () => reject(new Trouble("The photo did not get through. Is the program still running?"));
    request.onload = () => {
      let data = {};
      try { data = JSON.parse(request.responseText); } catch { data = { error: request.responseText }; }
      if (request.status === 200) resolve(data);
      else reject(new Trouble(data.error || "The photo was not taken."));
    };
    request.send(file);
  });
}

export function make(name, attributes = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "class") element.className = value;
    else if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (value === true) element.setAttribute(key, "");
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(key, value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

export const plural = (count, word) => `${count} ${word}${count === 1 ? "" : "s"}`;

/** Words in which no line breaks inside a length such as 4 1/2 in. */
export const unbroken = (words) => words.replace(/(\d) (?=\d+\/\d|in\b|cm\b)/g, "$1\u00a0");

export const byId = (id) => document.getElementById(id);

/** A name to store things by: piles served one after the other at the same address share a store. */
export const nameInPile = (name) => `${name} in ${document.body.dataset.pile}`;

const timers = {};

function put(id, words, milliseconds) {
  const place = byId(id);
  clearTimeout(timers[id]);
  place.replaceChildren(make("p", {}, words));
  timers[id] = setTimeout(() => place.replaceChildren(), milliseconds);
}

/** Say something that may be overheard. */
export const mention = (words) => put("toast", words, 6000);

/** Say something that must not be. */
export function alarm(error) {
  byId("toast").replaceChildren(); // what was said before no longer holds
  put("alarm", error instanceof Error ? error.message : error, 12000);
}

export const ICONS = { sized: "\u2714", check: "!", cuts: "\u2718", "no-motif": "\u25cb", refused: "?" };

/** Run something that talks to the program; what goes wrong is said, not thrown. */
export async function attempt(work) {
  try {
    return await work();
  } catch (error) {
    if (!(error instanceof Trouble)) console.error(error);
    alarm(error);
    return null;
  }
}
