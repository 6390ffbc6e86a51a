"use strict";
// Camera and photos: pixels to the decoder's thread, codes back. Linear codes count when two different frames agree.
(function (R) {
  const WIDEST = 1280;
  const AGREE_WITHIN = 3_000;
  const ONE_LABEL_WITHIN = 400;
  const waiting = new Map();
  let worker = null;
  let stream = null;
  let number = 0;

  class DecoderFailed extends Error {}

  function decode(image, full) {
    if (!worker) {
      worker = new Worker(R.facts.decoder);
      worker.postMessage({ parts: R.facts.decoder_parts });
      worker.onmessage = ({ data }) => (data.error ? fail(data.error) : answer(data));
      worker.onerror = ({ message }) => fail(message);
    }
    number += 1;
    const id = number;
    return new Promise((done, failed) => {
      waiting.set(id, { done, failed });
      worker.postMessage({ id, image, full }, [image.data.buffer]);
    });
  }

  function answer({ id, codes }) {
    const asked = waiting.get(id);
    waiting.delete(id);
    if (asked) asked.done(codes);
  }

  // The next picture starts another decoder.
  function fail(reason) {
    if (worker) worker.terminate();
    worker = null;
    for (const { failed } of waiting.values()) failed(new DecoderFailed(reason));
    waiting.clear();
  }

  function pixels(source, width, height, widest) {
    const scale = Math.min(1, widest / Math.max(width, height));
    const canvas = pixels.canvas || (pixels.canvas = document.createElement("canvas"));
    canvas.width = Math.round(width * scale);
    canvas.height = Math.round(height * scale);
    const drawing = canvas.getContext("2d", { willReadFrequently: true });
    drawing.drawImage(source, 0, 0, canvas.width, canvas.height);
    return drawing.getImageData(0, 0, canvas.width, canvas.height);
  }

  // Which codes of this frame count now. None for a moment while a bar code beside them waits for its second frame.
  function agreeing(before, codes, now) {
    const sure = [];
    let unsure = false;
    for (const [raw, seen] of before) if (now - seen.at > AGREE_WITHIN) before.delete(raw);
    for (const code of codes) {
      const seen = before.get(code.raw);
      if (seen || !R.labels.isLinear(code.format)) sure.push(code);
      else unsure = true;
      before.set(code.raw, { at: now, first: seen ? seen.first : now });
    }
    const held = sure.some((code) => now - before.get(code.raw).first > ONE_LABEL_WITHIN);
    return { sure: unsure && !held ? [] : sure, unsure };
  }

  async function watch(video, found, lost) {
    const mine = stream;
    const before = new Map();
    let last = -1;
    for (let frame = 1; stream === mine; frame += 1) {
      if (document.hidden || video.readyState < 2 || video.currentTime === last) {
        await R.pause(25);
        continue;
      }
      if (!stream.active) return lost("camera_lost");
      last = video.currentTime;
      const taken = performance.now();
      const image = pixels(video, video.videoWidth, video.videoHeight, WIDEST);
      const codes = await decode(image, frame % 3 === 0).catch(() => null);
      if (stream !== mine) return;
      if (!codes) return lost("decoder_failed");
      if (codes.length) await found(agreeing(before, codes, performance.now()), taken);
      await R.pause(Math.max(0, 50 - (performance.now() - taken)));
    }
  }

  async function start(video, found, lost) {
    const asked = { width: { ideal: 1280 }, height: { ideal: 720 }, facingMode: { ideal: "environment" } };
    stream = await navigator.mediaDevices.getUserMedia({ audio: false, video: asked });
    video.srcObject = stream;
    await video.play();
    const track = stream.getVideoTracks()[0];
    track.addEventListener("ended", () => lost("camera_lost"));
    watch(video, found, lost);
    const able = track.getCapabilities ? track.getCapabilities() : {};
    return { torch: Boolean(able.torch) };
  }

  function stop(video) {
    if (stream) stream.getTracks().forEach((track) => track.stop());
    stream = null;
    video.srcObject = null;
  }

  // A linear code in a photo counts when two sizes of the picture give the same text.
  async function fromPhoto(file) {
    const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
    const large = await decode(pixels(picture, picture.width, picture.height, 2200), true);
    const small = await decode(pixels(picture, picture.width, picture.height, 1500), true);
    const inLarge = new Set(large.map((code) => code.raw));
    const twice = small.filter((code) => !R.labels.isLinear(code.format) || inLarge.has(code.raw));
    const both = new Map([...large.filter((code) => !R.labels.isLinear(code.format)), ...twice].map((c) => [c.raw, c]));
    return [...both.values()];
  }

  R.camera = {
    DecoderFailed,
    start,
    stop,
    fromPhoto,
    agreeing,
    decode,
    torch: (on) => stream.getVideoTracks()[0].applyConstraints({ advanced: [{ torch: on }] }),
    get on() {
      return stream !== null;
    },
  };
})(window.Rooftally);
