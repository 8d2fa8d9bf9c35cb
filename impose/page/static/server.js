// How the page speaks with the program on this computer: requests, jobs, and what it tells by itself.

const TOKEN = "impose-token";
export const TAB = crypto.randomUUID();

// The address that opened the page carries a word that only this page may use. It is kept and taken from the address.
export function takeWords() {
  const words = new URLSearchParams(location.hash.slice(1));
  const token = words.get("token");
  const batch = words.get("batch");
  if (token) localStorage.setItem(TOKEN, token);
  if (batch) sessionStorage.setItem("impose-batch", batch);
  if (token || batch) history.replaceState(null, "", location.pathname + location.search);
}

// What is said of a request that was refused: what is wrong, and what to do.
export class Refused extends Error {
  constructor(status, error) {
    super(error.what);
    this.status = status;
    this.code = error.code;
    this.what = error.what;
    this.remedy = error.remedy ?? "";
    this.findings = error.findings ?? [];
  }
}

const AWAY = {
  code: "away",
  what: "The program on this computer does not answer.",
  remedy: "Start it again from its icon. Everything that was saved is still there.",
};

async function ask(method, address, body, options = {}) {
  const headers = { "X-Impose-Token": localStorage.getItem(TOKEN) ?? "", "X-Impose-Tab": TAB };
  const json = body !== undefined && !(body instanceof Blob);
  if (json) headers["Content-Type"] = "application/json";
  else if (body) headers["Content-Type"] = "application/octet-stream";
  let reply;
  try {
    reply = await fetch(address, { method, headers, body: json ? JSON.stringify(body) : body, signal: options.signal });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Refused(0, AWAY);
  }
  if (reply.status === 204) return null;
  const said = await reply.json().catch(() => ({}));
  if (!reply.ok) {
    throw new Refused(reply.status, said.error ?? { code: "unknown", what: "That did not work.", remedy: "Try it again." });
  }
  return said;
}

export const get = (address, options) => ask("GET", address, undefined, options);
export const post = (address, body = {}) => ask("POST", address, body);
export const put = (address, blob, options) => ask("PUT", address, blob, options);
export const remove = (address) => ask("DELETE", address);

// Work that takes longer. `told` hears of its progress; `stop` ends it.
const jobs = new Map();

export function follow(started, told = () => {}) {
  const id = started.job;
  const work = new Promise((done, failed) => {
    const check = async () => {
      let job;
      try { job = await get(`/api/jobs/${id}`); } catch (error) { end(); failed(error); return; }
      told(job);
      if (job.state === "running") return;
      end();
      if (job.state === "done") done(job.result);
      else if (job.state === "stopped") done(null);
      else failed(new Refused(500, job.error ?? { what: "That did not work.", remedy: "Try it again." }));
    };
    const timer = setInterval(check, 1500); // beside what is told: should that be lost
    const end = () => { clearInterval(timer); jobs.delete(id); };
    jobs.set(id, (job) => (job.state === "running" ? told(job) : check()));
    check();
  });
  return { work, stop: () => remove(`/api/jobs/${id}`).catch(() => {}) };
}

const KINDS = ["hello", "batch", "saved", "unsaved", "elsewhere", "progress", "plan", "helper", "job", "made", "ticks",
  "shop", "desk", "batches", "goodbye"];
let source = null;
let lines = null;

// Listen to the program: `heard(kind, data)`; kind "lost" and "back" tell of the line itself. A page that nobody sees
// hangs up, since a browser keeps few lines open to one program, and asks for everything when it is seen again.
export function listen(batch, heard) {
  lines = { batch, heard };
  connect();
}

document.addEventListener("visibilitychange", () => {
  if (!lines) return;
  if (document.hidden) { source?.close(); source = null; return; }
  if (!source) { connect(); lines.heard("back", {}); }
});

function connect() {
  source?.close();
  const { batch, heard } = lines;
  const line = (source = new EventSource(`/api/events?batch=${encodeURIComponent(batch)}`));
  let lost = false;
  line.onerror = () => { if (!lost) heard("lost", {}); lost = true; };
  line.onopen = () => { if (lost) heard("back", {}); lost = false; };
  for (const kind of KINDS) {
    line.addEventListener(kind, (event) => {
      const data = JSON.parse(event.data);
      if (kind === "job") jobs.get(data.job)?.(data);
      heard(kind, data);
    });
  }
}
