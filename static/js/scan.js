// Running Order: read a tag with the camera where the browser can. Without it the number is typed.

const box = document.querySelector("[data-camera]");
const form = document.getElementById("f-scan");
const words = box?.querySelector("[data-camera-words]");
const view = box?.querySelector("[data-camera-view]");

if (box && "BarcodeDetector" in window && navigator.mediaDevices?.getUserMedia) {
  box.hidden = false;
  box.querySelector("[data-camera-start]").addEventListener("click", read);
}

async function read() {
  let stream = null;
  try {
    const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    view.srcObject = stream;
    view.hidden = false;
    words.textContent = "Hold the code in the picture.";
    await view.play();
    const found = await first(detector);
    stop(stream);
    form.elements.text.value = found;
    form.requestSubmit(form.querySelector("button"));
  } catch {
    stop(stream);
    view.hidden = true;
    words.textContent = "The camera cannot be used. Type the number below.";
    form.elements.text.focus();
  }
}

async function first(detector) {
  for (;;) {
    const codes = await detector.detect(view);
    if (codes.length) return codes[0].rawValue;
    await new Promise((later) => setTimeout(later, 200));
  }
}

function stop(stream) {
  for (const track of stream?.getTracks() ?? []) track.stop();
}
