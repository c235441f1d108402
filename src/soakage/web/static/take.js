// The timed sheet.  The clock is a start time, never a counter; what happens waits in the page until the server has it.
import { ask } from "./page.js";

const root = document.querySelector("#take");
const $ = (name) => root.querySelector(name);
const all = (name) => root.querySelectorAll(name);
let whole = JSON.parse(root.dataset.whole);
const place = Number(root.dataset.place);
const store = `soakage-take-${whole.draft}`;
const queue = JSON.parse(localStorage.getItem(store) ?? "[]");
const asleep = new Set();
let ahead = Date.now() - whole.now; // how far the clock of this page runs before that of the server
let unit = "GΩ", chosen = null, changing = null, read = null, sending = false, seen = null, heard = null;

const sheet = () => whole.sheets[place];
const mine = () => queue.filter((one) => one.sheet === place);
const started = () => mine().find((one) => one.kind === "started")?.at ?? (sheet().started && sheet().started + ahead);
const ended = () => sheet().ended || mine().some((one) => one.kind === "ended");
const elapsed = (at = Date.now()) => sheet().ended ? sheet().ended.time : started() ? Math.max(0, (at - started()) / 1000 * whole.scale) : 0;
const clock = (s) => { const n = Math.floor(s), h = Math.floor(n / 3600), m = Math.floor(n / 60) % 60, two = (x) => String(x).padStart(2, "0"); return h ? `${h}:${two(m)}:${two(n % 60)}` : `${m}:${two(n % 60)}`; };
const done = (mark) => sheet().readings.some((one) => one.mark === mark) || mine().some((one) => one.kind === "reading" && one.mark === mark);

// What happens -------------------------------------------------------------------------------------
function happen(kind, more = {}) {
  queue.push({ key: crypto.randomUUID?.() ?? `${Date.now()}-${Math.random().toString(36).slice(2)}`, sheet: place, kind, at: Date.now(), ...more });
  save();
  return send();
}

function save() {
  localStorage.setItem(store, JSON.stringify(queue));
  const waits = queue.filter((one) => one.failed);
  $("#waiting").hidden = !waits.length;
  if (waits.length) $("#waiting").textContent = `The server does not answer. Kept in this page and sent again by itself: ${queue.map((one) => one.text || one.kind).join(", ")}.`;
}

async function send() {
  if (sending) return;
  sending = true;
  try {
    while (queue.length) {
      const { at, failed, ...one } = queue[0];
      try {
        take(await ask(`/api/drafts/${whole.draft}/rows`, { method: "POST", body: { number: whole.next, ago: Math.max(0, (Date.now() - at) / 1000), ...one } }));
      } catch (problem) {
        if (!problem.faults || problem.status >= 500) { queue[0].failed = true; save(); setTimeout(send, 1000); break; }
        if (problem.status === 409) { // somebody added meanwhile, or our answer was lost
          take(await ask(`/api/drafts/${whole.draft}`));
          if (!whole.keys.includes(one.key)) continue;
        } else refuse(problem, one);
      }
      queue.shift();
      save();
      await renew();
    }
  } catch { setTimeout(send, 1000); }
  sending = false;
}

function refuse(problem, one) {
  say(problem.faults.map((f) => [f.problem, f.given && `Given: ${f.given}.`, f.remedy].filter(Boolean).join(" ")).join(" "));
  if (one.text) { field.value = one.text; look(); }
}

function say(text) { $("#said").textContent = text; $("#said").hidden = !text; }

function take(state) { ahead = Date.now() - state.now; whole = state; }

async function renew() {
  const answer = await fetch(`/take/${whole.draft}?sheet=${place}&part=1`, { headers: { Accept: "text/html" } });
  if (!answer.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const name of ["#stand", "#evidence", "#questions", "#ledger"]) {
    const typed = name === "#stand" && $("#stand").contains(document.activeElement) && $("#stand").dataset.state === page.querySelector(name).dataset.state;
    if (!typed) $(name).replaceWith(page.querySelector(name));
  }
  tick();
}

// The clock ------------------------------------------------------------------------------------------
const next = (now) => sheet().calls.find((call) => call.time > now && !(call.read && done(call.time)));
function target(now) {
  if (chosen !== null) return chosen;
  const calls = sheet().calls.filter((call) => call.read);
  const last = calls.filter((call) => call.time <= now + 1).at(-1);
  if (last && !done(last.time) && !asleep.has(last.time)) {
    const after = calls[calls.indexOf(last) + 1]?.time ?? Infinity;
    if (now < Math.min(after - 3, last.time + 60) || field.value) return last.time;
  }
  return null;
}

function tick() {
  const now = elapsed(), state = sheet().state, live = started() && !ended();
  for (const one of all("[data-while]")) one.hidden = !started();
  $(".pad").hidden = !started() || (!live && !changing && target(now) === null);
  $("[data-stop]").hidden = !live;
  if (!started()) return;
  const awake = seen === null || Date.now() - seen < 3000;
  if (live && !awake) {
    for (const call of sheet().calls) if (call.read && call.time <= now - 1 && call.time > elapsed(seen) && !done(call.time)) asleep.add(call.time);
  }
  seen = Date.now();
  $("[data-elapsed]").textContent = clock(now);
  const call = live ? next(now) : null, left = call ? call.time - now : 0;
  if (call) {
    const seconds = Math.ceil(left);
    $("[data-say]").textContent = `${call.say} in`;
    $("[data-count]").textContent = seconds > 90 ? clock(seconds) : `${seconds} s`;
    $(".clock").classList.toggle("soon", seconds <= 3);
  } else {
    $("[data-say]").textContent = live ? "Every mark was called. Stop when the plan is done." : "Stopped. Treat it as live until it is earthed and proved dead.";
    $("[data-count]").textContent = "";
    $(".clock").classList.remove("soon");
  }
  if (live && heard !== null && awake) for (const one of sheet().calls) for (const before of [10, 3, 2, 1, 0]) {
    const due = one.time - before;
    if (heard < due && due <= now) signal(`${one.time}-${before}`, before, before === 10 ? `${one.say} in 10 seconds` : before ? "" : one.read ? `Read now: ${one.label}` : one.say);
  }
  heard = now;
  const at = target(now), marked = sheet().calls.find((one) => one.time === at && one.read);
  $("[data-for]").textContent = changing ? changing.label : marked ? marked.label : sheet().calls.length ? `${clock(now)}, between marks` : "when steady";
  const missed = [...asleep].filter((time) => !done(time)).map((time) => sheet().calls.find((one) => one.time === time).label);
  if (missed.length && live) say(`The page was asleep at ${missed.join(", ")}. A reading now is kept with its true time; one noted at the mark can still be entered in the ledger.`);
  for (const row of all("#ledger [data-mark]")) {
    const time = Number(row.dataset.mark), unread = row.classList.contains("to-come") || row.classList.contains("next");
    if (!unread) continue;
    row.classList.toggle("next", time === at || (at === null && call?.time === time));
    row.querySelector("[data-fill]").hidden = time > now;
    row.querySelector("[data-in]").textContent = call?.time === time ? `in ${$("[data-count]").textContent}` : "";
  }
  const on = call?.on || sheet().calls.findLast((one) => one.on)?.on;
  if (on && $("[data-on]")) $("[data-on]").textContent = on;
  if ($("[data-needs]")) $("[data-needs]").textContent = clock(now * whole.earthing_multiple);
  if (state === "earthed" && $("[data-earth]")) {
    const rest = sheet().earthing.time - (Date.now() - ahead - sheet().earthed) / 1000 * whole.scale;
    $("[data-earth]").textContent = rest > 0 ? `${clock(Math.ceil(rest))} of at least ${sheet().earthing.shown} to go. Charge returns when the earth is lifted early.` : "Minimum earthing time has passed: prove dead, keep earthed while you work.";
  }
  for (const plot of all(".taking-plot")) {
    const { first, last, left: from, right } = plot.dataset, wide = plot.viewBox.baseVal.width - from - right;
    const x = Number(from) + Math.min(1, Math.max(0, Math.log(Math.max(now, first) / first) / Math.log(last / first))) * wide;
    plot.querySelector("[data-now]").setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
    plot.querySelector("[data-done]").setAttribute("d", `M${from} 18H${x.toFixed(1)}`);
    for (const one of plot.querySelectorAll("[data-call]")) one.classList.toggle("next", Number(one.dataset.call) === (at ?? call?.time));
  }
}

// Calls: one low tone at 10 s, three short ones, one high at the mark ------------------------------------
let tones = null, sound = localStorage.getItem("soakage-sound") !== "off";
function signal(id, at, words) {
  if (words) $("[data-called]").textContent = words;
  root.dataset.calls = `${root.dataset.calls ?? ""} ${id}`;
  const [pitch, long] = { 10: [330, 0.35], 0: [1320, 0.5] }[at] ?? [660, 0.12];
  navigator.vibrate?.(at === 0 ? 400 : 120);
  if (sound) tone(pitch, long);
}
function tone(pitch, long, wait = 0) {
  tones ??= new AudioContext();
  tones.resume();
  const voice = tones.createOscillator(), level = tones.createGain(), from = tones.currentTime + wait;
  voice.frequency.value = pitch;
  level.gain.setValueAtTime(0.25, from);
  level.gain.exponentialRampToValueAtTime(0.001, from + long);
  voice.connect(level).connect(tones.destination);
  voice.start(from);
  voice.stop(from + long);
}

// Entry: what is typed is shown as it is read before it is kept ------------------------------------------
const field = $("#entry");
const SHORT = { k: "kΩ", m: "MΩ", g: "GΩ", t: "TΩ", n: "nA", u: "µA", µ: "µA" };
function typed() {
  const text = field.value.trim();
  const short = text.match(/^([<>]?\s*[\d.,' ]+)([kmgtnuµ])$/i);
  if (short) return `${short[1].trim()} ${SHORT[short[2].toLowerCase()]}`;
  return !text || /[a-zµΩ°]/i.test(text) ? text : `${text} ${unit}`;
}
let asked = null;
async function look() {
  const text = typed();
  $("[data-unit-shown]").textContent = /[a-zµΩ°]/i.test(field.value) ? "" : unit;
  $(".keep").textContent = text ? `Keep ${text}` : "Keep";
  $("#read-as").textContent = "";
  read = null;
  asked?.abort(); // an answer that is late is about another text
  if (!text) return;
  asked = new AbortController();
  try {
    read = await ask(`/api/reading?${new URLSearchParams({ text })}`, { signal: asked.signal });
    $("#read-as").textContent = `Read as ${read.shown}.`;
    $(".keep").textContent = `Keep ${read.shown}`;
  } catch (problem) {
    if (problem.faults) $("#read-as").textContent = [problem.faults[0].problem, problem.faults[0].remedy].join(" ");
  }
}

function keep() {
  const text = typed(), now = elapsed();
  if (!text) return;
  if ($("#read-as").textContent && !read) return; // the server read it and could not
  say("");
  if (changing) happen("changed", { of: changing.number, text });
  else {
    const mark = target(now);
    happen("reading", { text, mark, time: sheet().calls.length ? mark ?? Math.round(now * 10) / 10 : null });
    if (mark !== null) asleep.delete(mark);
  }
  forget();
}

function forget() {
  [chosen, changing, read] = [null, null, null];
  field.value = "";
  $("[data-forget]").hidden = true;
  look();
  tick();
}

function press(key) {
  field.value += key;
  field.focus();
  look();
}

field.addEventListener("input", look);
$("[data-entry]").addEventListener("submit", (event) => { event.preventDefault(); keep(); });
document.addEventListener("keydown", (event) => {
  if (event.target.closest("input, select, textarea, button, summary, a") || event.ctrlKey || event.metaKey || event.altKey || !started()) return;
  if (/^[\d.,<>]$/.test(event.key)) { event.preventDefault(); press(event.key); }
});
root.addEventListener("submit", (event) => {
  const form = event.target, value = (name) => form.elements[name]?.value ?? "";
  if (form.matches("[data-found]")) { event.preventDefault(); say(""); happen("found", { dc: value("dc"), ac: value("ac"), apply: value("apply") }); document.activeElement.blur(); }
  if (form.matches("[data-ending]")) { event.preventDefault(); happen("ended", { how: value("how"), voltage: value("voltage") }); }
});
root.addEventListener("change", async (event) => {
  if (event.target.name !== "condition") return;
  try { take(await ask(`/api/drafts/${whole.draft}/ticks`, { method: "POST", body: { item: event.target.value, on: event.target.checked } })); } catch { event.target.checked = !event.target.checked; say("The server does not answer; this tick is not kept."); }
});
root.addEventListener("click", (event) => {
  const at = event.target.closest("button");
  if (!at) return;
  const is = at.dataset;
  if ("key" in is) press(is.key);
  else if ("delete" in is) { field.value = field.value.slice(0, -1); look(); field.focus(); }
  else if ("unit" in is) { unit = is.unit; for (const one of all("[data-unit]")) one.setAttribute("aria-pressed", String(one === at)); look(); field.focus(); }
  else if ("start" in is) { tones ??= new AudioContext(); [seen, heard] = [null, 0]; happen("started"); tick(); field.focus(); }
  else if ("stop" in is) { const all = sheet().calls.every((call) => !call.required || !call.read || done(call.time)); happen("ended", { how: all ? "complete" : "stopped" }); }
  else if ("earthed" in is) happen("earthed");
  else if ("undo" in is) happen("undone", { of: Number(is.undo) });
  else if ("stands" in is) happen("answered", { of: Number(is.stands) });
  else if ("slip" in is) happen("changed", { of: Number(is.slip), text: is.text });
  else if ("again" in is) { changing = { number: Number(is.again), label: is.label }; chosen = null; $("[data-forget]").hidden = false; field.focus(); tick(); }
  else if ("fill" in is) { chosen = Number(is.fill); changing = null; $("[data-forget]").hidden = false; field.focus(); tick(); }
  else if ("forget" in is) forget();
  else if ("sound" in is) { sound = !sound; localStorage.setItem("soakage-sound", sound ? "on" : "off"); settings(); if (sound) tone(660, 0.12); }
  else if ("hand" in is) { localStorage.setItem("soakage-hand", root.classList.contains("left") ? "right" : "left"); settings(); }
});

function settings() {
  const left = localStorage.getItem("soakage-hand") === "left";
  root.classList.toggle("left", left);
  $("[data-hand]").setAttribute("aria-pressed", String(left));
  $("[data-sound]").setAttribute("aria-pressed", String(sound));
  $("[data-sound]").textContent = sound ? "Sound on" : "Sound off";
}

// A page that is loaded again has not heard the marks that passed meanwhile.
const now = elapsed();
if (started() && !ended()) for (const call of sheet().calls) if (call.read && call.time <= now - 2 * whole.scale && !done(call.time)) asleep.add(call.time);
settings();
look();
tick();
setInterval(tick, 200);
document.addEventListener("visibilitychange", tick);
if (queue.length) send();
