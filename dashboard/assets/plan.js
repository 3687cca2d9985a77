// The lowering plan: the button of a way chooses it; the drawing and its words follow from the server.
document.addEventListener("click", function (event) {
  const button = event.target.closest("button[data-way]");
  if (!button) { return; }
  window.dash_clientside.set_props("plan-way", { data: button.dataset.way });
});
