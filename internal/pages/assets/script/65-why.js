// Whoever asks why is shown the reasons, not only where they are folded away.
document.querySelectorAll('a[href="#why"]').forEach((link) => link.addEventListener("click", () => {
  const folded = document.querySelector("details#why");
  if (folded) folded.open = true;
}));
