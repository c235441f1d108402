// What every page does: tokens for changes, charts when the page is usable.

/** Ask the API; a stale token is fetched again once, so that nothing typed is lost over a restart. */
export async function ask(address, { method = "GET", body, signal } = {}) {
  const send = () => {
    const headers = { Accept: "application/json" };
    if (method !== "GET") headers["X-CSRF-Token"] = document.querySelector("meta[name=csrf]").content;
    if (body !== undefined) headers["Content-Type"] = "application/json";
    return fetch(address, { method, headers, signal, body: body === undefined ? undefined : JSON.stringify(body) });
  };
  let answer = await send();
  if (answer.status === 403 && method !== "GET") {
    const session = await (await fetch("/api/session")).json();
    document.querySelector("meta[name=csrf]").content = session.csrf;
    answer = await send();
  }
  const said = answer.status === 204 ? null : await answer.json();
  if (!answer.ok) throw Object.assign(new Error("refused"), { status: answer.status, faults: said.errors });
  return said;
}

if (document.querySelector("[data-job]")) import("./busy.js");

// What takes longer is fetched when the page is usable; without a script a link in its place leads there.
for (const place of document.querySelectorAll("[data-part]")) {
  fetch(place.dataset.part, { headers: { Accept: "text/html" } }).then(async (answer) => {
    if (!answer.ok) return;
    place.innerHTML = await answer.text();
    place.dataset.arrived = "";
    if (place.querySelector("[data-chart]")) (await import("./chart.js")).begin(place);
  });
}

if (document.querySelector("[data-chart]")) {
  const begin = () => import("./chart.js").then((chart) => chart.begin());
  if ("requestIdleCallback" in window) requestIdleCallback(begin, { timeout: 1500 });
  else setTimeout(begin, 200);
}

// A cell of the tally shows only its criteria; pressed again, all of them.
for (const cell of document.querySelectorAll("[data-filter]")) {
  cell.addEventListener("click", () => {
    const only = cell.getAttribute("aria-pressed") === "true" ? null : cell.dataset.filter;
    for (const other of document.querySelectorAll("[data-filter]")) {
      other.setAttribute("aria-pressed", String(other.dataset.filter === only));
    }
    for (const row of document.querySelectorAll("[data-status]")) row.hidden = only !== null && row.dataset.status !== only;
  });
}
