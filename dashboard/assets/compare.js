// Cards that are folded on a phone stand open where there is room; whoever folds one keeps it folded.
new MutationObserver(function () {
  document.querySelectorAll("details.ff-roomy:not([data-seen])").forEach(function (card) {
    card.dataset.seen = "";
    if (window.innerWidth >= 1000) { card.open = true; }
  });
}).observe(document, { childList: true, subtree: true });
