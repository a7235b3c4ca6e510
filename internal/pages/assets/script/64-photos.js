// A photo is made smaller before it is sent, as lines on a ramp are slow. What cannot be read here is sent as it is.
const longest = 2560;
const enough = 400 * 1024;
const smaller = async (file) => {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, longest / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.85); });
  return blob && blob.size < file.size ? new File([blob], file.name.replace(/\.[^.]*$/, "") + ".jpg", { type: "image/jpeg" }) : file;
};
document.addEventListener("change", (event) => {
  const field = event.target;
  if (field.type !== "file" || !field.files[0] || !field.files[0].type.startsWith("image/") || field.files[0].size < enough) return;
  const chosen = field.files[0];
  field.work = smaller(chosen).then((file) => {
    if (field.files[0] !== chosen || file === chosen) return;
    const files = new DataTransfer();
    files.items.add(file);
    field.files = files.files;
  }).catch(() => {}).finally(() => { field.work = null; });
});
// Whoever sends before it is done waits that long, and no longer.
document.addEventListener("submit", (event) => {
  const form = event.target;
  const work = [...form.querySelectorAll("input[type=file]")].map((field) => field.work).filter(Boolean);
  if (work.length === 0) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  const { submitter } = event;
  Promise.race([Promise.all(work), new Promise((done) => { setTimeout(done, 5000); })]).then(() => {
    form.querySelectorAll("input[type=file]").forEach((field) => { field.work = null; });
    form.requestSubmit(submitter);
  });
}, true);
