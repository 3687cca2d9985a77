// The guided sag check: Space takes the reading, each new reading beeps, a phone gets the narrow drawing.
(function () {
  let sound = null;
  let done = null;
  function wake() { // browsers let a page sound only after somebody touched it
    const Sound = window.AudioContext || window.webkitAudioContext;
    if (sound === null && Sound) { sound = new Sound(); }
  }
  document.addEventListener("click", wake);
  document.addEventListener("keydown", function (event) {
    wake();
    const take = document.getElementById("check-take");
    const busy = event.target.closest("button, input, select, textarea, a, [role=button], label");
    if (event.code !== "Space" || !take || busy || event.repeat) { return; }
    event.preventDefault();
    take.click();
  });
  function beep() {
    if (sound === null || sound.state !== "running") { return; }
    const tone = sound.createOscillator();
    const level = sound.createGain();
    level.gain.value = 0.1;
    tone.frequency.value = 880;
    tone.connect(level).connect(sound.destination);
    tone.start();
    tone.stop(sound.currentTime + 0.15);
  }
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    flatfoot: {
      narrow: function (_, before) {
        const now = window.innerWidth <= 760;
        return now === before ? window.dash_clientside.no_update : now;
      },
      taken: function (version) {
        if (version && done !== null && version.done > done) { beep(); }
        done = version ? version.done : done;
        return "";
      },
    },
  });
})();
