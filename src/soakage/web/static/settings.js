// What only this browser keeps for the timed sheet: which hand, and whether marks are called by sound.
document.documentElement.classList.add("has-script");
for (const button of document.querySelectorAll("[data-keep]")) {
  const { keep, on, off, usual } = button.dataset;
  const show = () => button.setAttribute("aria-pressed", String((localStorage.getItem(keep) ?? usual ?? off) === on));
  button.addEventListener("click", () => {
    localStorage.setItem(keep, button.getAttribute("aria-pressed") === "true" ? off : on);
    show();
  });
  show();
}
