// Prints the page that is shown; the browser asks for the paper.
document.addEventListener("click", function (event) {
  if (event.target.closest("[data-print]")) { window.print(); }
});
