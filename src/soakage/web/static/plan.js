// The plan card: each tick is kept at once with its time; the first one begins the sheet.
import { ask } from "./page.js";

const form = document.querySelector("#plan");
document.documentElement.classList.add("has-script");
document.querySelector("[data-print]")?.addEventListener("click", () => window.print());

let turn = Promise.resolve();
form?.addEventListener("change", (event) => {
  if (event.target.name === "tick") turn = turn.then(() => keep(event.target));
});

form?.addEventListener("submit", async (event) => { // a sheet that is being begun is not begun twice
  if (form.dataset.waited) return;
  event.preventDefault();
  await turn;
  form.dataset.waited = "yes";
  setTimeout(() => form.requestSubmit(event.submitter)); // not inside the event: a form ignores it there
});

async function keep(box) {
  const said = document.querySelector("#tick-said");
  const field = form.elements.draft;
  try {
    if (!field.value) field.value = (await begin()).draft;
    const now = await ask(`/api/drafts/${field.value}/ticks`, { method: "POST", body: { item: box.value, on: box.checked } });
    const tick = now.ticks[box.value];
    const time = tick && new Date(tick.at / 1000).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" });
    box.closest("label").querySelector(".done").textContent = tick ? `${time}, ${tick.person}` : "";
    said.textContent = "Kept.";
  } catch (problem) {
    box.checked = !box.checked;
    said.textContent = problem.faults?.[0]?.problem ?? "The server does not answer; this tick is not kept.";
  }
}

async function begin() {
  const given = [...new FormData(form)];
  const made = await ask("/api/drafts", {
    method: "POST",
    body: {
      asset: form.dataset.asset || null,
      values: Object.fromEntries(given.filter(([name]) => name.startsWith("k-")).map(([name, value]) => [name.slice(2), value])),
      methods: given.filter(([name]) => name === "method").map(([, value]) => value),
    },
  });
  const address = new URL(location);
  address.searchParams.set("draft", made.draft);
  history.replaceState(null, "", address);
  return made;
}
