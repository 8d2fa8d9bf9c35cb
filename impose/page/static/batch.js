// The batch as this tab knows it. The folder on disk is the only truth: everything here is fetched from it, and every
// change is sent at once.

import { get, post, put, listen, TAB, Refused } from "./server.js";
import { say } from "./dom.js";

export const held = {
  state: null, batch: null, plan: null, columns: [], kinds: null, made: null, shop: null, progress: "", saved: true, lost: false,
};
export const route = { go: () => {} }; // set by the frame
const views = new Set();
export const onChange = (view) => views.add(view);

let drawing = false;
export function redraw() {
  if (drawing) return;
  drawing = true;
  requestAnimationFrame(() => { drawing = false; for (const view of views) view(); });
}

export const base = () => `/api/b/${held.batch?.id ?? held.state.current}`;

// Fetch something once at a time; asked again meanwhile, it is fetched once more afterwards.
function single(fetchIt) {
  let running = null, again = false;
  return function run() {
    if (running) { again = true; return running; }
    running = fetchIt().catch(tell).finally(() => { running = null; if (again) { again = false; run(); } redraw(); });
    return running;
  };
}

export const loadState = single(async () => { held.state = await get("/api/state"); });
export const loadBatch = single(async () => {
  held.batch = await get(`/api/b/${sessionStorage.getItem("impose-batch") ?? held.state.current}`);
});
export const loadPlan = single(async () => { held.plan = await get(`${base()}/plan`); });
export const loadMade = single(async () => { held.made = (await get(`${base()}/made`)).made; });

export const loadShop = single(async () => { held.shop = await get("/api/shop"); });

// Who wants to hear of events that concern one view only: shop, desk, ticks.
const hearers = new Map();
export const onEvent = (kind, heard) => hearers.set(kind, heard);

// What a person has to be told, with what can be done: drawn by the shell.
export const notices = [];
export function notice(what, act = null, lasting = false) {
  notices.splice(0, notices.length, ...notices.filter((one) => one.lasting && one.what !== what));
  const one = { what, act, lasting };
  notices.push(one);
  if (!lasting) setTimeout(() => drop(one), 12000);
  say(what);
  redraw();
}
export function drop(one) {
  const at = notices.indexOf(one);
  if (at >= 0) notices.splice(at, 1);
  redraw();
}

export function tell(error) {
  if (error?.name === "AbortError") return;
  if (!(error instanceof Refused)) { console.error(error); notice("Something went wrong in this page. Load it again."); return; }
  if (error.code === "no-token" || error.status === 401) { held.lost = "key"; redraw(); return; }
  if (error.status === 0) { held.lost = "away"; redraw(); return; }
  notice([error.what, error.remedy].filter(Boolean).join(" "));
}

export async function start(first) {
  await loadState();
  if (!held.state) return;
  const wanted = sessionStorage.getItem("impose-batch");
  if (!held.state.batches.some((one) => one.id === wanted)) sessionStorage.removeItem("impose-batch");
  const [columns, kinds] = await Promise.all([get("/api/columns"), get("/api/garments"), loadBatch()]);
  held.columns = columns.columns ?? columns;
  held.kinds = kinds;
  first();
  loadMade();
  listen(held.batch.id, hear);
}

export async function openBatch(id) {
  await post("/api/batches", { open: id });
  sessionStorage.setItem("impose-batch", id);
  Object.assign(held, { batch: null, plan: null, made: null });
  await loadState();
  await loadBatch();
  loadMade();
  listen(held.batch.id, hear);
}

let server = null;
function hear(kind, data) {
  const act = {
    // Only from here on is every new plan told: one fetched before could be followed by one that is never heard of.
    hello() { if (server && server !== data.server) location.reload(); server = data.server; loadPlan(); },
    batch() { if (data.by !== TAB || data.revision !== held.batch.revision) loadBatch(); },
    saved() { held.saved = true; if (held.batch) held.batch.saved = data.revision; },
    unsaved() { held.saved = false; notice(`${data.what} ${data.remedy ?? ""}`); },
    elsewhere() { loadBatch(); if (!data.ask) notice(data.what); },
    progress() { held.progress = data.of ? data.says : ""; },
    plan() { loadPlan(); if (data.final) held.progress = ""; },
    helper() { notice(`${data.what} ${data.remedy ?? ""}`); },
    made() { loadMade(); },
    shop() { if (held.shop) loadShop(); },
    lost() { held.lost = "away"; },
    back() { held.lost = false; loadBatch(); loadPlan(); },
    batches() { loadState(); },
    goodbye() { held.lost = "ended"; },
  };
  act[kind]?.();
  hearers.get(kind)?.(data);
  redraw();
}

// One change of the batch, in one step that can be undone. Answers the new ids of added rows, or null if refused.
let sending = Promise.resolve();
export function change(label, ops, merge) {
  const send = async () => {
    try {
      held.saved = false;
      const done = await post(`${base()}/changes`, merge ? { label, ops, merge } : { label, ops });
      await loadBatch();
      return done.ids ?? {};
    } catch (error) {
      tell(error);
      await loadBatch();
      return null;
    }
  };
  return (sending = sending.then(send, send));
}

export async function step(way) {
  const label = held.batch[way];
  if (!label) return;
  try { await post(`${base()}/${way}`); } catch (error) { tell(error); return; }
  await loadBatch();
  say(`${way === "undo" ? "Undone" : "Done again"}: ${label}.`);
}

// Pictures into the batch, three at a time. Answers what became of each; those refused are told of.
export const taking = { done: 0, of: 0, stop: null };
export async function takePictures(files) {
  const halt = new AbortController();
  const waiting = [...files].map((file, at) => ({ file, at }));
  const taken = [], refused = [], count = waiting.length;
  let own = 0; // others may be under way: a picture is dropped before the last one is in
  Object.assign(taking, { of: taking.of + count, stop: () => halt.abort() });
  redraw();
  const work = async () => {
    for (let one = waiting.shift(); one && !halt.signal.aborted; one = waiting.shift()) {
      try {
        taken[one.at] = await put(`${base()}/art?name=${encodeURIComponent(one.file.name)}`, one.file, { signal: halt.signal });
      } catch (error) {
        if (error.name !== "AbortError") refused.push({ name: one.file.name, error });
      }
      taking.done += 1;
      own += 1;
      if (taking.of > 3) say(`Taking in picture ${taking.done} of ${taking.of}.`);
      redraw();
    }
  };
  await Promise.all([work(), work(), work()]);
  Object.assign(taking, { of: taking.of - count, done: taking.done - own });
  await loadBatch();
  if (refused.length === 1) notice(`${refused[0].name}: ${refused[0].error.what} ${refused[0].error.remedy}`);
  else if (refused.length) notice(`${refused.length} files were not taken. The first is ${refused[0].name}: ${refused[0].error.what}`);
  return taken.filter(Boolean);
}
