// Small photos in a row, each a button; the one chosen stands whole below. Python makes the pictures and keeps the order.
let count = 0;

function render({ model, el }) {
  const id = `fb-photo-${++count}-${Math.floor(Math.random() * 1e9)}`;
  el.classList.add("fb-photo-strip");
  const list = document.createElement("ul");
  list.className = "fb-photo-list";
  const more = button("", "fb-photo-more", () => model.send("more"));
  const whole = document.createElement("figure");
  whole.id = `${id}-whole`;
  whole.className = "fb-photo-whole";
  whole.tabIndex = -1;
  el.append(list, more, whole);

  function button(text, name, act) {
    const b = document.createElement("button");
    b.type = "button";
    b.className = `fb-button ${name}`;
    b.textContent = text;
    b.addEventListener("click", act);
    return b;
  }

  function small(photo, at) {
    const item = document.createElement("li");
    const words = document.createElement("div");
    words.className = "fb-photo-words";
    words.textContent = photo.caption;
    if (photo.source) {
      const open = button("", "fb-photo-open", () => (model.get("opened") === at ? shut() : model.send({ open: at })));
      open.setAttribute("aria-controls", whole.id);
      const picture = document.createElement("img");
      Object.assign(picture, { src: photo.source, alt: photo.caption });
      open.append(picture);
      words.setAttribute("aria-hidden", "true"); // the picture's own text says the same
      item.append(open, words);
    } else {
      const lost = document.createElement("div");
      lost.className = "fb-photo-lost";
      lost.textContent = `This photo cannot be shown: ${photo.fault}`;
      item.append(lost, words);
    }
    return item;
  }

  function paint() {
    const photos = model.get("photos");
    while (list.children.length > photos.length) list.lastChild.remove();
    photos.slice(list.children.length).forEach((p) => list.append(small(p, list.children.length)));
    const left = model.get("more");
    more.textContent = `${left} more`;
    const had = document.activeElement === more;
    more.hidden = !left || !photos.length;
    if (had && more.hidden) list.querySelector("li:last-child button")?.focus();
    mark();
  }

  function mark() {
    [...list.children].forEach((li, at) => {
      const b = li.querySelector("button");
      if (b) b.setAttribute("aria-expanded", model.get("opened") === at ? "true" : "false");
    });
  }

  function shut() {
    const at = model.get("opened");
    model.send("shut");
    list.children[at]?.querySelector("button")?.focus();
  }

  function show() {
    const { caption, source, fault } = model.get("whole");
    whole.replaceChildren();
    whole.hidden = !caption;
    mark();
    if (!caption) return;
    const words = document.createElement("figcaption");
    words.textContent = source ? caption : `This photo cannot be shown: ${fault}`;
    whole.append(words, button("Close the photo", "fb-photo-shut", shut));
    if (source) {
      const picture = document.createElement("img");
      Object.assign(picture, { src: source, alt: caption });
      whole.append(picture);
    }
    whole.focus({ preventScroll: true });
    const picture = whole.querySelector("img"); // how tall it is is known only when it is read
    const look = () => whole.scrollIntoView({ block: whole.offsetHeight > window.innerHeight * 0.7 ? "start" : "nearest" });
    if (picture) picture.decode().then(look, look);
    else look();
  }

  el.addEventListener("keydown", (e) => {
    if (e.key === "Escape" && model.get("opened") >= 0) shut();
    e.stopPropagation();
  });
  model.on("change:photos change:more", paint);
  model.on("change:whole", show);
  paint();
  show();
}
export default { render };
