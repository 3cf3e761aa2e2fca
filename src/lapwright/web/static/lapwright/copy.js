// Copies the text of a box at a press. Without this script, or without the right to the clipboard, the text can be marked.

for (const button of document.querySelectorAll("[data-copy]")) {
  const said = button.textContent;
  button.hidden = false;
  button.addEventListener("click", async () => {
    const box = document.getElementById(button.dataset.copy);
    if (!box) {
      return; // nothing to copy just now
    }
    box.focus();
    box.select();
    try {
      await navigator.clipboard.writeText(box.value);
      button.textContent = button.dataset.copied;
      window.setTimeout(() => {
        button.textContent = said;
      }, 2000);
    } catch {
      // The clipboard is not ours; the text is marked and can be copied by hand.
    }
  });
}
