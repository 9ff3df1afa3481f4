// Requests to the program; each carries the key.

let key = "";

export function takeKey() {
  const words = new URLSearchParams(location.hash.slice(1));
  if (words.get("key")) {
    sessionStorage.setItem("key", words.get("key"));
    history.replaceState(null, "", location.pathname);
  }
  key = sessionStorage.getItem("key") || "";
  return words.get("scenario");
}

export class RequestError extends Error {
  constructor(status, body) {
    super(body.error || `status ${status}`);
    this.status = status;
    this.body = body;
    this.errors = body.errors || [];
  }
}

function send(name, body, signal) {
  const headers = { "content-type": "application/json", "x-ventplan-key": key };
  return fetch(`/api/${name}`, { method: "POST", headers, body: JSON.stringify(body), signal, keepalive: name === "keep" });
}

export async function ask(name, body) {
  let response;
  try {
    response = await send(name, body);
  } catch {
    throw new RequestError(0, { error: "the program does not answer" });
  }
  const answer = await response.json().catch(() => ({ error: `the program failed (${response.status}); see where it was started` }));
  if (!response.ok) throw new RequestError(response.status, answer);
  return answer;
}

// One request under way and one waiting: a newer question replaces the one that waits.
export class LatestRequest {
  constructor(name, onanswer, onerror) {
    Object.assign(this, { name, onanswer, onerror, busy: false, waiting: null });
  }

  async put(body) {
    if (this.busy) {
      this.waiting = body;
      return;
    }
    this.busy = true;
    const [answer, error] = await ask(this.name, body).then((a) => [a, null], (e) => [null, e]);
    this.busy = false;
    const next = this.waiting;
    this.waiting = null;
    if (next) this.put(next);
    if (error) this.onerror(error, body);
    else this.onanswer(answer, body);
  }

  get idle() {
    return !this.busy && !this.waiting;
  }
}

// Lines of JSON as they come, until the answer; stop by aborting the signal.
export async function askWithProgress(name, body, onprogress, signal) {
  const response = await send(name, body, signal);
  if (!response.ok) throw new RequestError(response.status, await response.json());
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { value, done } = await reader.read();
    if (done) throw new RequestError(0, { error: "the search ended without an answer" });
    const lines = (rest + value).split("\n");
    rest = lines.pop();
    for (const line of lines.map((l) => JSON.parse(l))) {
      if (line.progress) onprogress(...line.progress);
      if (line.error) throw new RequestError(422, line);
      if (line.answer) return line.answer;
    }
  }
}
