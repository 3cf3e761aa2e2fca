// Readings along a bar are typed like those of a set, value and Enter: Enter leads to the next box of the laying, and only
// from its last one, or where nothing was typed, it records.

for (const bar of document.querySelectorAll("fieldset.bar")) {
  const boxes = [...bar.querySelectorAll("input")];
  bar.addEventListener("keydown", (event) => {
    const next = boxes[boxes.indexOf(event.target) + 1];
    if (event.key !== "Enter" || event.isComposing || !next || !event.target.value.trim()) return;
    event.preventDefault();
    next.focus();
    next.select();
  });
}
