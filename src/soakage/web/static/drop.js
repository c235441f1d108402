// Files dropped anywhere on the form are as if they had been chosen.
for (const form of document.querySelectorAll("[data-drop]")) {
  const field = form.querySelector("input[type=file]");
  const over = (yes) => form.classList.toggle("over", yes);
  form.addEventListener("dragover", (event) => { event.preventDefault(); over(true); });
  form.addEventListener("dragleave", () => over(false));
  form.addEventListener("drop", (event) => {
    event.preventDefault();
    over(false);
    field.files = event.dataTransfer.files;
    if (field.files.length) form.requestSubmit();
  });
}
