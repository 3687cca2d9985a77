// Prints the page that is shown; the browser asks for the paper.
document.addEventListener("click", function (event) {
  if (event.target.closest("[data-print]")) { window.print(); }
});
// What is folded is printed unfolded, and folded again afterwards.
window.addEventListener("beforeprint", function () {
  document.querySelectorAll("details.ff-fold:not([open])").forEach(function (fold) {
    fold.open = true;
    fold.dataset.printed = "";
  });
});
window.addEventListener("afterprint", function () {
  document.querySelectorAll("details[data-printed]").forEach(function (fold) {
    fold.open = false;
    delete fold.dataset.printed;
  });
});
