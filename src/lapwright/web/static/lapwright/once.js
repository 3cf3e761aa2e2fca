// A form is sent once: a second press while the answer is under way would record the same thing twice.

const PATIENCE_MS = 10000; // then a press counts again: the answer may have been lost

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  if ("sent" in form.dataset) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "";
  setTimeout(() => delete form.dataset.sent, PATIENCE_MS);
});

// Back again, by the browser's button: the form may be sent anew.
addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent));
