// The service, asked: JSON in, JSON out; what goes wrong is said as what, where and what to do.

/** What cannot be done, in the words of the service. */
export class Told extends Error {
  /** @param {{what: string, where: string, remedy: string}} said @param {number} status */
  constructor(said, status) {
    super(`${said.where ? `${said.where}: ` : ""}${said.what}. ${said.remedy}`);
    this.said = said;
    this.status = status;
  }
}

/** The service does not answer: nothing is known about the request. */
export class Away extends Error {
  constructor() {
    super("The desk's service does not answer. What you do is kept in this browser and sent when it is back.");
  }
}

/** @param {Response} answer */
async function toldBy(answer) {
  const fallback = {
    what: `the service answered ${answer.status}`,
    where: "",
    remedy: "Load the page anew; nothing that was said is lost.",
  };
  try {
    return new Told((await answer.json()).error ?? fallback, answer.status);
  } catch {
    return new Told(fallback, answer.status);
  }
}

/**
 * @param {string} path
 * @param {RequestInit} [how]
 * @returns {Promise<Response>}
 */
export async function ask(path, how = {}) {
  let answer;
  try {
    answer = await fetch(path, { credentials: "same-origin", ...how });
  } catch (error) {
    if (error instanceof DOMException && error.name === "AbortError") throw error;
    throw new Away();
  }
  if (!answer.ok) throw await toldBy(answer);
  return answer;
}

/** @param {string} path @returns {Promise<any>} */
export async function get(path) {
  return (await ask(path)).json();
}

/** @param {string} path @param {any} body @returns {Promise<any>} */
export async function post(path, body) {
  const answer = await ask(path, {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  });
  const text = await answer.text();
  return text ? JSON.parse(text) : null;
}

/** An identifier made here, so that what is sent twice counts once. */
export function newId() {
  return crypto.randomUUID();
}
