/** Questions asked before something is done that stays done. */
const toldIn = (dialog) => dialog.querySelector("[role=alert]");

export function open(dialog) {
  toldIn(dialog).textContent = "";
  dialog.showModal();
}

/** Runs `agreed` on submitting; an error of it is told inside the dialog, which stays open. */
export function ask(dialog, agreed) {
  const form = dialog.querySelector("form");
  const told = toldIn(dialog);
  form.querySelector("button[value=back]").addEventListener("click", () => dialog.close());
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (form.getAttribute("aria-busy") === "true") return;
    form.setAttribute("aria-busy", "true");
    told.textContent = "";
    try {
      await agreed(form);
    } catch (error) {
      told.textContent = error.message;
    }
    form.removeAttribute("aria-busy");
  });
}
