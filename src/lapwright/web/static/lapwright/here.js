// On a phone the rows of the head are pushed sideways: the page that one is on is brought into their sight.

for (const row of document.querySelectorAll(".head nav ul")) {
  const here = row.querySelector("[aria-current]");
  if (here && row.scrollWidth > row.clientWidth) {
    row.scrollLeft = here.offsetLeft - row.offsetLeft - (row.clientWidth - here.offsetWidth) / 2;
  }
}
