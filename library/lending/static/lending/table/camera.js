/* Reads codes from the camera: by the browser's own detector where it has one, else by the
   decoder that is shipped (vendor/jsQR.js, Apache License 2.0, see beside it). */

const EVERY = 200;
const SAME_AGAIN_AFTER = 4000;
const WIDEST = 800;

let stream = null;
let timer = 0;

const script = (address) =>
  new Promise((resolve, reject) => {
    const element = document.createElement("script");
    element.src = address;
    element.onload = resolve;
    element.onerror = reject;
    document.head.append(element);
  });

/* A function from a video to the text of the code in it, or null. */
const makeReader = async (decoder) => {
  if ("BarcodeDetector" in window) {
    const known = await window.BarcodeDetector.getSupportedFormats();
    if (known.includes("qr_code")) {
      const detector = new window.BarcodeDetector({ formats: ["qr_code"] });
      return async (video) => {
        const [found] = await detector.detect(video);
        return found ? found.rawValue : null;
      };
    }
  }
  if (!window.jsQR) {
    await script(decoder);
  }
  const canvas = document.createElement("canvas");
  const context = canvas.getContext("2d", { willReadFrequently: true });
  return async (video) => {
    const scale = Math.min(1, WIDEST / video.videoWidth);
    canvas.width = Math.round(video.videoWidth * scale);
    canvas.height = Math.round(video.videoHeight * scale);
    context.drawImage(video, 0, 0, canvas.width, canvas.height);
    const picture = context.getImageData(0, 0, canvas.width, canvas.height);
    const found = window.jsQR(picture.data, picture.width, picture.height);
    return found ? found.data : null;
  };
};

const close = (video, button, words) => {
  window.clearTimeout(timer);
  if (stream) {
    stream.getTracks().forEach((track) => track.stop());
  }
  stream = null;
  video.hidden = true;
  video.srcObject = null;
  button.querySelector("span").textContent = words["camera-open"];
  button.setAttribute("aria-expanded", "false");
};

export const toggleCamera = async ({ video, button, words, decoder, found }) => {
  if (stream) {
    close(video, button, words);
    return;
  }
  stream = await navigator.mediaDevices.getUserMedia({
    video: { facingMode: "environment", width: { ideal: 1280 } },
  });
  let read;
  try {
    read = await makeReader(decoder);
  } catch (missing) {
    close(video, button, words);
    throw missing;
  }
  video.srcObject = stream;
  video.hidden = false;
  button.querySelector("span").textContent = words["camera-close"];
  button.setAttribute("aria-expanded", "true");
  await video.play();
  let last = { text: "", at: 0 };
  const look = async () => {
    if (!stream) {
      return;
    }
    const text = video.videoWidth ? await read(video).catch(() => null) : null;
    if (text) {
      const isNew = text !== last.text || Date.now() - last.at > SAME_AGAIN_AFTER;
      last = { text, at: Date.now() }; // one that stays in view is one scan
      if (isNew) {
        await found(text);
      }
    }
    timer = window.setTimeout(look, EVERY);
  };
  look();
};
