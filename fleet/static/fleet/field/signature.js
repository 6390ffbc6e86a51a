"use strict";
// A pad to sign on: strokes in dark ink on white, so that the picture reads alike in light and dark.
(function (R) {
  function pad(canvas) {
    const drawing = canvas.getContext("2d");
    let length = 0;
    let last = null;

    function clear() {
      drawing.fillStyle = "#ffffff";
      drawing.fillRect(0, 0, canvas.width, canvas.height);
      drawing.lineWidth = 6;
      drawing.lineCap = "round";
      drawing.lineJoin = "round";
      drawing.strokeStyle = "#10263a";
      length = 0;
      last = null;
    }

    function place(event) {
      const box = canvas.getBoundingClientRect();
      return {
        x: ((event.clientX - box.left) * canvas.width) / box.width,
        y: ((event.clientY - box.top) * canvas.height) / box.height,
      };
    }

    function draw(event) {
      if (!last) return;
      const next = place(event);
      drawing.beginPath();
      drawing.moveTo(last.x, last.y);
      drawing.lineTo(next.x, next.y);
      drawing.stroke();
      length += Math.hypot(next.x - last.x, next.y - last.y);
      last = next;
    }

    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      last = place(event);
    });
    canvas.addEventListener("pointermove", draw);
    for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => (last = null));
    clear();
    return {
      clear,
      get signed() {
        return length > 80; // more than a touch by mistake
      },
      picture: () => canvas.toDataURL("image/png").split(",")[1],
    };
  }

  R.signaturePad = pad;
})(window.Rooftally);
