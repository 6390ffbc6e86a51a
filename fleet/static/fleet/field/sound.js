"use strict";
// One high tone for kept, two for known here already, two rising ones for a question, two low ones for not kept. Phones let sound begin only after a touch.
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
    known() {
      if (context) [0, 0.16].forEach((from) => tone(1320, from, 0.08));
      if (navigator.vibrate) navigator.vibrate([40, 60, 40]);
    },
    question() {
      if (context) [[660, 0], [990, 0.2]].forEach(([pitch, from]) => tone(pitch, from, 0.18));
      if (navigator.vibrate) navigator.vibrate(400);
    },
    bad() {
      if (context) [0, 0.18].forEach((from) => tone(220, from, 0.14));
      if (navigator.vibrate) navigator.vibrate([60, 60, 60]);
    },
  };
})(window.Rooftally);
