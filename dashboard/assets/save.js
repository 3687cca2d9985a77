// Saves a drawing or its numbers as a file. Everything is already in the page: nothing is asked for.
document.addEventListener("click", function (event) {
  const button = event.target.closest("[data-save]");
  if (!button) { return; }
  const figure = button.closest("figure, .ff-card");
  const image = figure.querySelector("img.ff-screen") || figure.querySelector("img");
  const link = document.createElement("a");
  link.href = button.dataset.csv === undefined
    ? image.src
    : "data:text/csv;charset=utf-8," + encodeURIComponent(button.dataset.csv);
  link.download = button.dataset.save;
  link.click();
});
