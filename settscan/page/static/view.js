// A picture of any size: tiles on a canvas, moved and zoomed by hand, wheel, fingers or keys.
const KEEP = 160; // tiles held at once
const STEP = 1.35;

export class View {
  constructor(element) {
    this.element = element;
    this.canvas = document.createElement("canvas");
    this.over = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    element.append(this.canvas, this.over);
    this.picture = null;
    this.scale = 1;
    this.x = 0; // picture pixels at the left and top of the view
    this.y = 0;
    this.tiles = new Map();
    this.watchers = [];
    this.pointers = new Map();
    this.paint = () => {};
    this.click = () => {};
    this.fitted = true;
    new ResizeObserver(() => (this.fitted ? this.fit() : this.redraw())).observe(element);
    this.listen();
  }

  open(picture, address) {
    const same = this.picture && this.picture.version === picture.version;
    this.picture = picture;
    this.address = address;
    if (same) { this.redraw(); return; }
    this.tiles.clear();
    this.fitted = true; // even while it is hidden: it fits itself as soon as it has a size
    this.fit();
  }

  get width() { return this.element.clientWidth; }
  get height() { return this.element.clientHeight; }

  fit() {
    if (!this.picture || !this.width) return;
    const { width, height } = this.picture;
    this.scale = Math.min(this.width / width, this.height / height) * 0.96;
    this.x = width / 2 - this.width / 2 / this.scale;
    this.y = height / 2 - this.height / 2 / this.scale;
    this.fitted = true;
    this.redraw();
  }

  zoom(factor, atX = this.width / 2, atY = this.height / 2) {
    if (!this.picture || !this.width) return;
    const least = Math.min(this.width / this.picture.width, this.height / this.picture.height) / 2;
    const scale = Math.min(Math.max(this.scale * factor, least), 16);
    this.x += atX / this.scale - atX / scale;
    this.y += atY / this.scale - atY / scale;
    this.scale = scale;
    this.fitted = false;
    this.redraw();
  }

  pan(dx, dy) {
    this.x -= dx / this.scale;
    this.y -= dy / this.scale;
    this.fitted = false;
    this.redraw();
  }

  // From shares of the picture's sides to pixels of the view, and back.
  toView(sx, sy) {
    return [(sx * this.picture.width - this.x) * this.scale, (sy * this.picture.height - this.y) * this.scale];
  }

  toShare(event) {
    const box = this.element.getBoundingClientRect();
    return [
      ((event.clientX - box.left) / this.scale + this.x) / this.picture.width,
      ((event.clientY - box.top) / this.scale + this.y) / this.picture.height,
    ];
  }

  show(sx, sy) {
    if (!this.width) return;
    const [x, y] = this.toView(sx, sy);
    const room = 40;
    if (x > room && y > room && x < this.width - room && y < this.height - room) return;
    this.pan(this.width / 2 - x, this.height / 2 - y);
  }

  redraw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => { this.waiting = false; this.drawNow(); });
  }

  drawNow() {
    if (!this.picture || !this.width) return;
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const [w, h] = [Math.round(this.width * ratio), Math.round(this.height * ratio)];
    if (this.canvas.width !== w || this.canvas.height !== h) { this.canvas.width = w; this.canvas.height = h; }
    const pen = this.canvas.getContext("2d");
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, w, h);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.over.setAttribute("viewBox", `0 0 ${this.width} ${this.height}`);
    const wanted = Math.floor(Math.log2(1 / (this.scale * ratio)));
    const level = Math.min(Math.max(wanted, 0), this.picture.levels - 1);
    this.drawLevel(pen, this.picture.levels - 1);
    if (level < this.picture.levels - 1) this.drawLevel(pen, level);
    this.paint(pen);
    for (const act of this.watchers) act();
  }

  drawLevel(pen, level) {
    const { width, height, tile } = this.picture;
    const span = tile * 2 ** level;
    const first = [Math.max(0, Math.floor(this.x / span)), Math.max(0, Math.floor(this.y / span))];
    const last = [
      Math.min(Math.ceil(width / span) - 1, Math.floor((this.x + this.width / this.scale) / span)),
      Math.min(Math.ceil(height / span) - 1, Math.floor((this.y + this.height / this.scale) / span)),
    ];
    for (let row = first[1]; row <= last[1]; row += 1) {
      for (let column = first[0]; column <= last[0]; column += 1) {
        const image = this.tile(level, column, row);
        if (!image.complete || !image.naturalWidth) continue;
        const left = (column * span - this.x) * this.scale;
        const top = (row * span - this.y) * this.scale;
        const unit = 2 ** level * this.scale;
        pen.drawImage(image, left, top, image.naturalWidth * unit, image.naturalHeight * unit);
      }
    }
  }

  tile(level, column, row) {
    const key = `${level}/${column}/${row}`;
    let image = this.tiles.get(key);
    if (image) { this.tiles.delete(key); this.tiles.set(key, image); return image; }
    image = new Image();
    image.onload = () => this.redraw();
    image.src = `${this.address}&level=${level}&column=${column}&row=${row}&v=${this.picture.version}`;
    this.tiles.set(key, image);
    if (this.tiles.size > KEEP) this.tiles.delete(this.tiles.keys().next().value);
    return image;
  }

  listen() {
    const { element } = this;
    element.addEventListener("wheel", (event) => {
      event.preventDefault();
      const box = element.getBoundingClientRect();
      this.zoom(2 ** (-event.deltaY / 400), event.clientX - box.left, event.clientY - box.top);
    }, { passive: false });
    element.addEventListener("pointerdown", (event) => {
      if (event.target.closest("[data-drag]")) return;
      element.setPointerCapture(event.pointerId);
      this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
      this.moved = this.pointers.size > 1 ? 99 : 0;
      this.pressed = event.target;
    });
    element.addEventListener("pointermove", (event) => this.pointerMoved(event));
    const up = (event) => {
      if (!this.pointers.delete(event.pointerId)) return;
      if (event.type === "pointerup" && this.moved < 6 && this.picture) this.click(event, this.pressed);
    };
    element.addEventListener("pointerup", up);
    element.addEventListener("pointercancel", up);
    element.addEventListener("keydown", (event) => this.key(event));
  }

  pointerMoved(event) {
    const before = this.pointers.get(event.pointerId);
    if (!before) return;
    const now = [event.clientX, event.clientY];
    const box = this.element.getBoundingClientRect();
    if (this.pointers.size === 2) {
      const other = [...this.pointers].find(([id]) => id !== event.pointerId)[1];
      const apart = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]) || 1;
      this.zoom(apart(now, other) / apart(before, other), (now[0] + other[0]) / 2 - box.left, (now[1] + other[1]) / 2 - box.top);
      this.pan((now[0] - before[0]) / 2, (now[1] - before[1]) / 2);
    } else {
      this.moved += Math.hypot(now[0] - before[0], now[1] - before[1]);
      if (this.moved >= 6) this.pan(now[0] - before[0], now[1] - before[1]);
    }
    this.pointers.set(event.pointerId, now);
  }

  key(event) {
    if (event.target !== this.element || event.ctrlKey || event.metaKey || event.altKey) return;
    const moves = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] };
    if (moves[event.key]) this.pan(...moves[event.key]);
    else if (event.key === "+" || event.key === "=") this.zoom(STEP);
    else if (event.key === "-") this.zoom(1 / STEP);
    else if (event.key === "0") this.fit();
    else return;
    event.preventDefault();
  }
}

export function zoomButtons(views) {
  for (const button of document.querySelectorAll("[data-zoom]")) {
    button.addEventListener("click", () => {
      const view = views[button.dataset.view];
      if (button.dataset.zoom === "fit") view.fit();
      else view.zoom(button.dataset.zoom === "in" ? STEP : 1 / STEP);
    });
  }
}
