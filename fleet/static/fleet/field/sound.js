"use strict";
// A high short tone for kept, two low ones for not kept. Phones let sound begin only after a touch.
(function (R) {
  let context = null;

  function wake() {
    const Sound = window.AudioContext || window.webkitAudioContext;
    if (!Sound) return;
    context ||= new Sound();
    if (context.state !== "running") context.resume().catch(() => {});
  }

  function tone(pitch, from, length) {
    const voice = context.createOscillator();
    const volume = context.createGain();
    voice.frequency.value = pitch;
    volume.gain.setValueAtTime(0.25, context.currentTime + from);
    volume.gain.exponentialRampToValueAtTime(0.001, context.currentTime + from + length);
    voice.connect(volume).connect(context.destination);
    voice.start(context.currentTime + from);
    voice.stop(context.currentTime + from + length);
  }

  R.sound = {
    wake,
    good() {
      if (context) tone(1320, 0, 0.16);
      if (navigator.vibrate) navigator.vibrate(60);
    },
    bad() {
      if (context) [0, 0.18].forEach((from) => tone(220, from, 0.14));
      if (navigator.vibrate) navigator.vibrate([60, 60, 60]);
    },
  };
})(window.Rooftally);
