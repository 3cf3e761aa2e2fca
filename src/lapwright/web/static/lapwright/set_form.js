// Another piece is mostly read at another moment: the one that it waits for; a carrier always bare.

const form = document.querySelector("form[data-moments]");
const momentOf = JSON.parse(form.dataset.moments);

form.elements.piece.addEventListener("change", () => {
  form.elements.moment.value = momentOf[form.elements.piece.value] ?? "carrier";
});
