/* The pot screen. Everything is derived from three things: the sheet's steps, the events recorded so far, and the clock.
   So it is right after a reload, after the phone slept, and while the studio cannot be reached. */

import { questionAbout } from "./questions.js";
import { Queue, freshId } from "./queue.js";

const state = JSON.parse(document.getElementById("pot-state").textContent);
const offset = Date.parse(state.now) - Date.now(); // the studio's clock is the one that counts
const here = location.pathname;
const address = here.replace(/\/pot\/?$/, "/events");
const byId = (id) => document.getElementById(id);
const now = () => new Date(Date.now() + offset);

const MOVES_THE_FORECAST = new Set(["clarity", "temperature", "ph", "rinsed", "started", "correction"]);
let asOf = now(); // when the studio computed the forecast on the screen
let pending = []; // events made here that the page's copy of the record does not hold yet

const queue = new Queue(address, {
  changed(waiting, parked) {
    const refused = new Set(parked.map((entry) => entry.id));
    const unsent = waiting.map((entry) => entry.event);
    pending = together(pending, unsent).filter((event) => !refused.has(event.id));
    showSaved(waiting.length, parked);
    show();
  },
  sent: refresh,
});

/* Two lists of events as one, each event once. */
function together(known, more) {
  const ids = new Set(known.map((event) => event.id));
  return [...known, ...more.filter((event) => !ids.has(event.id))];
}

/* ---- what has happened: recorded events and those still waiting ---- */

function happened() {
  const events = together(state.events, pending);
  const undone = new Set(events.filter((event) => event.kind === "correction").map((event) => event.corrects));
  return events
    .filter((event) => !undone.has(event.id) && event.kind !== "correction")
    .sort((a, b) => Date.parse(a.happened_at) - Date.parse(b.happened_at));
}

/* The same rules as core/progress.py: the step after the last one done is now, and it began when that one was done. */
function progress() {
  const doneAt = new Map();
  let heatOnAt = null;
  const moment = (event) => Date.parse(event.happened_at);
  for (const event of happened()) {
    if (event.kind === "step done" && !doneAt.has(event.detail.step)) doneAt.set(event.detail.step, moment(event));
    if (event.kind === "started") heatOnAt = moment(event);
  }
  const lastDone = state.steps.findLastIndex((step) => doneAt.has(step.key));
  const entered = state.steps.filter((step) => step.kind === "enter" && doneAt.has(step.key)).map((step) => doneAt.get(step.key));
  heatOnAt ??= entered.length ? Math.max(...entered) : null;
  return { index: lastDone + 1, heatOnAt, beganAt: lastDone < 0 ? null : doneAt.get(state.steps[lastDone].key) };
}

function endOf(step, { beganAt }) {
  return step.duration_min && beganAt !== null ? beganAt + step.duration_min * 60000 : null;
}

/* ---- showing ---- */

const twoDigits = (n) => String(n).padStart(2, "0");
const clockTime = (moment) => `${twoDigits(new Date(moment).getHours())}:${twoDigits(new Date(moment).getMinutes())}`;

function countdown(milliseconds) {
  const total = Math.max(0, Math.ceil(milliseconds / 1000));
  const hours = Math.floor(total / 3600);
  const rest = `${twoDigits(Math.floor((total % 3600) / 60))}:${twoDigits(total % 60)}`;
  return hours ? `${hours}:${rest}` : rest;
}

function put(id, text) {
  const element = byId(id);
  if (element.textContent !== text) element.textContent = text;
}

function showClock(step, where) {
  const end = step && endOf(step, where);
  const left = end && end - now();
  byId("clock").classList.toggle("words", !end || left <= 0);
  if (!step) return put("clock", "Done"), put("clock-line", "every step of the sheet");
  if (!end) return put("clock", step.is_wait ? "Waiting" : "Now"), put("clock-line", `step ${where.index + 1} of ${state.steps.length}`);
  if (left <= 0) return put("clock", "Time is up"), put("clock-line", `since ${clockTime(end - offset)}`);
  put("clock", countdown(left));
  put("clock-line", `left, until ${clockTime(end - offset)} by the clock`);
}

function show() {
  const where = progress();
  const step = state.steps[where.index];
  showClock(step, where);
  put("step-title", step ? step.title : "All steps are done.");
  put("step-text", step ? step.text : "Judge the skeins when they are dry, then keep the lot.");
  byId("step-caution").hidden = !step?.caution;
  if (step?.caution) put("step-caution-text", step.caution);
  const isRinsing = showWaters(where);
  byId("ladder").hidden = where.heatOnAt === null || isRinsing;
  showAge();
  const next = byId("next-step");
  next.hidden = !step;
  if (step) next.textContent = step.kind === "enter" ? "Yarn in, heat on" : "Next step";
  const tapped = happened().filter((event) => event.kind === "clarity").at(-1);
  for (const glass of document.querySelectorAll(".glasses button")) {
    glass.setAttribute("aria-pressed", String(Boolean(tapped) && Number(glass.value) === tapped.detail.exhaustion));
  }
}

/* Only the studio computes the forecast: what waits to be sent has not moved it yet, and the screen says so. */
function showAge() {
  const isBehind = pending.some((event) => MOVES_THE_FORECAST.has(event.kind));
  byId("forecast-as-of").hidden = !isBehind;
  if (isBehind) put("forecast-as-of", `Forecast as of ${clockTime(asOf - offset)}; it moves when what waits is sent.`);
}

/* Waters are counted by events: a note for each that still colours, and at the first clear one the count. */
function watersSoFar() {
  const tried = happened().filter((event) => event.kind === "note" && event.detail.water).map((event) => event.detail.water);
  const clear = happened().filter((event) => event.kind === "rinsed").at(-1);
  return { next: Math.max(0, ...tried) + 1, clearIn: clear?.detail.rinses ?? null };
}

function showWaters({ index, heatOnAt }) {
  const first = state.steps.findIndex((step) => step.kind === "rinse");
  const isTime = heatOnAt !== null && first >= 0 && index >= first;
  byId("waters").hidden = !isTime;
  const { next, clearIn } = watersSoFar();
  const expected = Number(byId("waters").dataset.expected);
  const asked = `Rinse ${next}${next <= expected ? ` of about ${expected}` : ""}: is its water clear in a white bowl?`;
  put("waters-words", clearIn === null ? asked : `Clear in rinse ${clearIn}.`);
  byId("waters-taps").hidden = clearIn !== null;
  return isTime;
}

function showSaved(waiting, parked) {
  put("saved", waiting ? `${waiting} waiting to be sent` : "saved");
  const box = byId("parked");
  box.hidden = !parked.length;
  box.querySelectorAll("li").forEach((item) => item.remove());
  for (const entry of parked) {
    const item = document.createElement("li");
    item.textContent = `${entry.event.kind} at ${clockTime(entry.event.happened_at)}: ${entry.refused} `;
    const drop = document.createElement("button");
    drop.className = "text";
    drop.textContent = "Discard it";
    drop.addEventListener("click", () => queue.discard(entry.id));
    const keep = document.createElement("button");
    keep.className = "text";
    keep.textContent = "Keep it as a note";
    keep.addEventListener("click", () => keepAsNote(entry));
    item.append(keep, " ", drop);
    box.querySelector("ul").append(item);
  }
}

function say(text) { put("said", text); }

/* ---- recording ---- */

async function record(kind, detail, words, corrects = null, at = now().toISOString()) {
  const event = { id: freshId(), kind, happened_at: at, detail, corrects };
  pending = together(pending, [event]);
  say(words);
  put("saved", "saving …");
  show();
  await queue.add(event);
}

/* What the studio refused is kept in words, so that it can be read on the run's page; then it is no longer parked. */
async function keepAsNote({ id, event, refused }) {
  const said = Object.entries(event.detail).map(([key, value]) => `${key} ${value}`).join(", ");
  await record("note", { text: `${event.kind} at ${clockTime(event.happened_at)}: ${said} (${refused})`.slice(0, 2000) }, "Kept as a note");
  await queue.discard(id);
}

/* The forecast and the log are the studio's to compute; they are fetched again once it has the events. */
async function refresh() {
  try {
    const answer = await fetch(here);
    if (!answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    state.events = JSON.parse(page.getElementById("pot-state").textContent).events;
    const recorded = new Set(state.events.map((event) => event.id));
    pending = pending.filter((event) => !recorded.has(event.id));
    asOf = now();
    for (const id of ["pot-forecast", "pot-log"]) byId(id).replaceWith(document.adoptNode(page.getElementById(id)));
    show();
  } catch { /* out of reach: what is on the screen stays */ }
}

const SECOND_TAP_MS = 500; // a glove taps twice: the second tap must not pass a step that was never read

async function nextStep() {
  const step = state.steps[progress().index];
  const button = byId("next-step");
  if (!step || button.getAttribute("aria-disabled") === "true") return;
  button.setAttribute("aria-disabled", "true");
  setTimeout(() => button.removeAttribute("aria-disabled"), SECOND_TAP_MS);
  await record("step done", { step: step.key }, `Done: ${step.title}`);
  scrollTo({ top: 0 });
}

/* A water also ends the rinsing step that it belongs to: the last one once clear, else the one that is now. */
async function recordWater(kind) {
  const { next } = watersSoFar();
  const { index } = progress();
  const rinsing = state.steps.slice(index).filter((step) => step.kind === "rinse");
  const isAtOne = state.steps[index]?.kind === "rinse";
  if (kind === "clear") await record("rinsed", { rinses: next }, `Clear in water ${next}`);
  else await record("note", { text: `water ${next} still colours`, water: next }, `The water of rinse ${next} still colours`);
  const ended = isAtOne && (kind === "clear" ? rinsing.at(-1) : rinsing.length > 1 && rinsing[0]);
  if (ended) await record("step done", { step: ended.key }, byId("said").textContent);
}

/* An answer to the studio's question; the question goes at once, and comes back only if the studio asks again. */
async function recordAnswer(form) {
  const [kind, value, about] = ["kind", "value", "about"].map((name) => form.elements[name].value);
  form.closest(".doubt").remove();
  if (kind === "dye") return record("addition", { what: "dye", text: value, about }, "Noted: dye was added");
  if (kind === "answer") return record("note", { text: value, about }, `Noted: ${value}`);
  if (kind === "reread") await recordAgain(about, celsius(value));
  return record("correction", {}, kind === "undo" ? "Taken back; the record keeps both" : "Put right; the record keeps both", about);
}

/* A temperature read in the other scale: recorded anew at its own time. */
function recordAgain(about, bathC) {
  const meant = together(state.events, pending).find((event) => event.id === about);
  return record("temperature", { bath_c: bathC }, `${bathC} °C`, null, meant?.happened_at);
}

function expectedTemperature() {
  const { heatOnAt } = progress();
  const last = happened().filter((event) => event.kind === "temperature").at(-1);
  if (heatOnAt === null || !state.t_min.length) return last ? last.detail.bath_c : 20;
  const minute = (now() - heatOnAt) / 60000;
  const after = state.t_min.findIndex((t) => t >= minute);
  return Math.round(state.bath_c[after < 0 ? state.bath_c.length - 1 : after]);
}

/* ---- wiring: plain forms work without this file; with it they are recorded in the page first ---- */

document.addEventListener("submit", (submission) => {
  const form = submission.target;
  const kind = form.dataset.record;
  if (!kind) return;
  submission.preventDefault();
  const value = submission.submitter?.value || new FormData(form).get("value");
  if (kind === "next") nextStep();
  if (kind === "clarity") record("clarity", { exhaustion: Number(value) }, `Bath: ${submission.submitter.dataset.words}`);
  if (kind === "addition") record("addition", { what: String(value) }, `${value} added at ${clockTime(Date.now())}`);
  if (kind === "note" && value.trim()) record("note", { text: value.trim() }, "Note kept").then(() => form.reset());
  if (kind === "ph" && value) recordPh(form, value);
  if (kind === "temperature") recordTemperature(form);
  if (kind === "water") recordWater(submission.submitter.value);
  if (kind === "answer") recordAnswer(form);
  if (kind === "undo") record("correction", {}, "Undone; the record keeps both", form.elements.corrects.value);
});

function recordPh(form, text) {
  const ph = Number(text.replace(",", "."));
  put("ph-wrong", Number.isFinite(ph) ? "" : `“${text}” is not a pH: 0 to 14`);
  if (Number.isFinite(ph)) recordSure("ph", ph, `pH ${text} kept`, () => form.reset());
}

/* A number alone is °C; one with F behind it is °F. */
function celsius(text) {
  const match = /^\s*([-−]?[\d.,]+)\s*°?\s*([CF]?)\s*$/i.exec(text);
  if (!match) return NaN;
  const number = Number(match[1].replace(",", ".").replace("−", "-"));
  return match[2].toUpperCase() === "F" ? Math.round((number - 32) * 5 / 9 * 10) / 10 : number;
}

function recordTemperature(form) {
  const text = form.elements.value.value;
  const typed = celsius(text);
  put("temperature-wrong", Number.isFinite(typed) ? "" : `“${text}” is not a temperature: write 82, or 180 F`);
  if (Number.isFinite(typed)) recordSure("temperature", typed, `${typed} °C at ${clockTime(Date.now())}`, () => byId("temperature-dialog").close());
}

/* ---- questions: what can hardly be is asked about, and what was typed stays in its field until it is answered ---- */

const KEYS = { temperature: "bath_c", ph: "ph" };

function recordSure(kind, number, words, done) {
  const question = questionAbout(kind, number, state.sure);
  if (question) return showQuestion(question, done);
  done();
  return record(kind, { [KEYS[kind]]: number }, words);
}

function showQuestion(question, done) {
  const dialog = byId("question-dialog");
  put("question-text", question.text);
  byId("question-meant").hidden = !question.ways.some((way) => way.kind !== "note" && !way.isSure);
  byId("question-ways").replaceChildren(...question.ways.map((way) => {
    const button = document.createElement("button");
    button.textContent = way.words;
    button.addEventListener("click", () => {
      dialog.close();
      done();
      recordWay(way);
    });
    return button;
  }));
  dialog.showModal();
}

function recordWay({ kind, value, words, isSure }) {
  if (kind === "note") return record("note", { text: value }, `Kept as a note: ${value}`);
  const number = kind === "temperature" ? celsius(value) : Number(value);
  return record(kind, { [KEYS[kind]]: number, ...(isSure && { is_sure: true }) }, `${words}, ${clockTime(Date.now())}`);
}

byId("close-question").addEventListener("click", () => byId("question-dialog").close());

byId("open-temperature")?.addEventListener("click", (click) => {
  const dialog = byId("temperature-dialog");
  if (!dialog.showModal) return;
  click.preventDefault();
  dialog.querySelector("input[name=value]").value = expectedTemperature();
  dialog.showModal();
});
document.querySelectorAll("[data-by]").forEach((button) =>
  button.addEventListener("click", () => {
    const input = byId("temperature-dialog").querySelector("input[name=value]");
    input.value = Number(input.value || 0) + Number(button.dataset.by);
  }),
);
byId("close-temperature")?.addEventListener("click", () => byId("temperature-dialog").close());

byId("photo-file")?.addEventListener("change", async (change) => {
  const [file] = change.target.files;
  if (!file) return;
  say("Photo kept here; sending it …");
  await queue.add({ id: freshId(), kind: "photo", happened_at: now().toISOString(), detail: {}, corrects: null }, file);
  change.target.value = "";
});

byId("light")?.addEventListener("click", () => {
  const page = document.documentElement;
  page.dataset.light = page.dataset.light === "dim" ? "bright" : "dim";
  try { localStorage.setItem("pot-light", page.dataset.light); } catch { /* not kept: it is asked again next time */ }
});
try { document.documentElement.dataset.light = localStorage.getItem("pot-light") || "dim"; } catch { /* stays dim */ }

setInterval(show, 500);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && (show(), refresh()));
show();
queue.flush();
