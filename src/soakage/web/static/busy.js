// Long work on a page: its sentence and bar go on by themselves; Cancel ends it; the result is opened when it is there.
import { ask } from "./page.js";

async function follow(box) {
  const address = `/api/jobs/${box.dataset.job}`;
  const sentence = box.querySelector("[role=status]");
  const bar = box.querySelector("progress");
  const button = box.querySelector("[data-cancel]");
  button.addEventListener("click", () => { button.disabled = true; ask(address, { method: "DELETE" }); });
  setTimeout(() => { box.hidden = false; }, 300);
  for (;;) {
    let job;
    try {
      job = await ask(address);
    } catch (problem) {
      sentence.textContent = problem.faults?.[0]?.problem ?? "The server does not answer; trying again.";
      if (problem.faults) return;
    }
    if (job) {
      if (sentence.textContent !== job.sentence) sentence.textContent = job.sentence;
      if (job.of) { bar.max = job.of; bar.value = job.done; }
      if (job.state === "done") { location.assign(job.then); return; }
      if (job.state === "cancelled") { box.hidden = false; button.remove(); bar.remove(); sentence.textContent = "Cancelled."; return; }
      if (job.state === "failed") {
        box.hidden = false; button.remove(); bar.remove();
        sentence.textContent = job.errors.map((one) => [one.problem, one.remedy].filter(Boolean).join(" ")).join("\n");
        return;
      }
    }
    await new Promise((resolve) => setTimeout(resolve, 400));
  }
}

document.querySelectorAll("[data-job]").forEach(follow);
