// "Use my position": puts where this device is into the field for a place. The server reads it like a pasted one.
"use strict";

(function () {
  if (!("geolocation" in navigator) || !window.isSecureContext) return;
  document.querySelectorAll("[data-locate]").forEach(function (acts) {
    const button = acts.querySelector("button");
    const told = acts.querySelector("[role=status]");
    const field = acts.closest("fieldset").querySelector("[data-place]");
    acts.hidden = false;

    function found(position) {
      const { latitude, longitude, accuracy } = position.coords;
      field.value = `${latitude.toFixed(6)}, ${longitude.toFixed(6)}`;
      field.dispatchEvent(new Event("input", { bubbles: true }));
      told.textContent = told.dataset.found.replace("%s", Math.ceil(accuracy));
      button.disabled = false;
    }

    function refused() {
      told.textContent = told.dataset.refused;
      button.disabled = false;
    }

    button.addEventListener("click", function () {
      button.disabled = true;
      told.textContent = told.dataset.asking;
      navigator.geolocation.getCurrentPosition(found, refused, {
        enableHighAccuracy: true,
        timeout: 20000,
        maximumAge: 0,
      });
    });
  });
})();
