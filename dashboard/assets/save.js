// Saves a drawing or its numbers as a file. Everything is already in the page: nothing is asked for.
document.addEventListener("click", function (event) {
  const button = event.target.closest("[data-save]");
  if (!button) { return; }
  const image = button.closest("figure, .ff-card").querySelector("img.ff-screen");
  const link = document.createElement("a");
  link.href = button.dataset.csv === undefined
    ? image.src
    : "data:text/csv;charset=utf-8," + encodeURIComponent(button.dataset.csv);
  link.download = button.dataset.save;
  link.click();
});
