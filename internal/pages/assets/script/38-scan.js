// The card of an aircraft is read with the camera, where the browser can. Whatever a code says, it only ever leads to the page
// of an aircraft of ours.
const scan = document.querySelector(".find .scan");
const ofOurs = (said) => {
  try {
    const address = new URL(said, location.origin);
    return address.origin === location.origin && /^\/(a\/[^/]+|squawks\/[0-9a-f-]+)$/.test(address.pathname) ? address.pathname : "";
  } catch {
    return "";
  }
};
if (scan && window.BarcodeDetector && navigator.mediaDevices?.getUserMedia) {
  BarcodeDetector.getSupportedFormats().then((formats) => { scan.hidden = !formats.includes("qr_code"); });
  const scanner = document.querySelector(".scanner");
  const video = scanner.querySelector("video");
  const status = scanner.querySelector("[role=status]");
  let stream = null;
  const stop = () => {
    stream?.getTracks().forEach((track) => track.stop());
    stream = null;
    scanner.hidden = true;
    scan.textContent = "Scan its card";
  };
  const look = async (detector) => {
    if (!stream) return;
    const codes = await detector.detect(video).catch(() => []);
    const to = codes.map((code) => ofOurs(code.rawValue)).find(Boolean);
    if (to) {
      stop();
      location.assign(to);
      return;
    }
    if (codes.length) status.textContent = "That code is none of an aircraft here.";
    setTimeout(() => look(detector), 150);
  };
  scan.addEventListener("click", async () => {
    if (stream) return stop();
    scanner.hidden = false;
    status.textContent = "Point the camera at the card.";
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      await video.play();
      scan.textContent = "Stop";
      look(new BarcodeDetector({ formats: ["qr_code"] }));
    } catch {
      stop();
      scanner.hidden = false;
      status.textContent = "The camera cannot be used. Type the registration instead.";
    }
  });
  addEventListener("pagehide", stop);
}
