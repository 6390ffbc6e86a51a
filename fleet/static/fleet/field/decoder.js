"use strict";
// The decoder's own thread. It gets pixels and answers with what the codes in them hold, as plain text.
let ready = null;

function prepare([script, wasm]) {
  importScripts(script);
  ZXingWASM.prepareZXingModule({ overrides: { locateFile: () => wasm } });
  ready = ZXingWASM.readBarcodes(new ImageData(8, 8), { formats: ["QRCode"] });
}

const KINDS = ["QRCode", "MicroQRCode", "DataMatrix", "Code128", "Code39", "EAN-13", "EAN-8", "ITF"];
const QUICK = { tryHarder: false, tryRotate: false, tryInvert: false, tryDownscale: false };
const FULL = { tryHarder: true, tryRotate: true, tryInvert: true, tryDownscale: true };

function payload(result) {
  try {
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(result.bytes);
  } catch {
    return result.text;
  }
}

async function read(image, full) {
  await ready;
  const results = await ZXingWASM.readBarcodes(image, {
    ...(full ? FULL : QUICK), formats: KINDS, textMode: "Plain", maxNumberOfSymbols: 8,
  });
  return results.filter((result) => result.isValid).map((result) => ({
    raw: payload(result), format: result.symbologyIdentifier, at: result.position.topLeft,
  }));
}

self.onmessage = async ({ data }) => {
  if (data.parts) {
    prepare(data.parts);
    return;
  }
  try {
    self.postMessage({ id: data.id, codes: await read(data.image, data.full) });
  } catch (error) {
    self.postMessage({ id: data.id, codes: [], error: String(error) });
  }
};
