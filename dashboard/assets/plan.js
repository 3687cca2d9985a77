// The lowering plan: the button of a way chooses it; the drawing and its words follow from the server. The
// table comes anew with them, so the button that was pressed gets the keyboard back.
document.addEventListener("click", function (event) {
  const button = event.target.closest("button[data-way]");
  if (!button) { return; }
  const way = button.dataset.way;
  const ways = document.getElementById("plan-ways");
  const watch = new MutationObserver(function () {
    if (document.activeElement && document.activeElement !== document.body) { return; }
    const again = [...ways.querySelectorAll("button[data-way]")].find((one) => one.dataset.way === way);
    if (!again) { return; }
    watch.disconnect();
    again.focus({ preventScroll: true });
  });
  watch.observe(ways, { childList: true, subtree: true });
  setTimeout(function () { watch.disconnect(); }, 5000);
  window.dash_clientside.set_props("plan-way", { data: way });
});
