(() => {
  const slides = [...document.querySelectorAll("article.slide")];
  const body = document.body;
  let at = 0;
  const show = (wanted) => {
    at = Math.max(0, Math.min(wanted, slides.length - 1));
    slides.forEach((slide, place) => slide.classList.toggle("on", place === at));
  };
  const begin = (wanted) => {
    body.classList.add("full");
    show(wanted);
    const asked = document.documentElement.requestFullscreen?.();
    asked?.catch(() => {});
  };
  const end = () => {
    body.classList.remove("full");
    if (document.fullscreenElement) document.exitFullscreen();
    slides[at].scrollIntoView({ block: "center" });
  };
  const keys = {
    ArrowRight: () => show(at + 1), ArrowDown: () => show(at + 1), PageDown: () => show(at + 1),
    " ": () => show(at + 1), Enter: () => show(at + 1),
    ArrowLeft: () => show(at - 1), ArrowUp: () => show(at - 1), PageUp: () => show(at - 1), Backspace: () => show(at - 1),
    Home: () => show(0), End: () => show(slides.length - 1),
    Escape: end, f: end, F: end,
  };
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !slides.length) return;
    const full = body.classList.contains("full");
    if (!full && (event.key === "f" || event.key === "F")) begin(at);
    else if (full && keys[event.key]) keys[event.key]();
    else return;
    event.preventDefault();
  });
  document.addEventListener("click", (event) => {
    if (!slides.length) return;
    if (event.target.closest(".begin button")) begin(0);
    else if (body.classList.contains("full")) show(at + (event.clientX < innerWidth / 3 ? -1 : 1));
  });
  document.addEventListener("fullscreenchange", () => {
    if (!document.fullscreenElement && body.classList.contains("full")) end();
  });
  const wanted = /^#show-(\d+)$/.exec(location.hash);
  if (wanted && slides.length) begin(Number(wanted[1]) - 1);
})();
