// Four points to four points: the projective map between a rectangle and its picture.

const HALVINGS = 20; // to a millionth of the picture, less than a pixel

// Solves a x = b by elimination with pivots; a is square and small.
function solve(a, b) {
  const n = b.length;
  const m = a.map((row, i) => [...row, b[i]]);
  for (let i = 0; i < n; i += 1) {
    let best = i;
    for (let k = i + 1; k < n; k += 1) if (Math.abs(m[k][i]) > Math.abs(m[best][i])) best = k;
    if (Math.abs(m[best][i]) < 1e-12) return null;
    [m[i], m[best]] = [m[best], m[i]];
    for (let k = 0; k < n; k += 1) {
      if (k === i) continue;
      const f = m[k][i] / m[i][i];
      for (let j = i; j <= n; j += 1) m[k][j] -= f * m[i][j];
    }
  }
  return m.map((row, i) => row[n] / row[i]);
}

// The map that takes the unit square's corners to four points, as nine numbers; null if it has none.
export function fromSquare(points) {
  const square = [[0, 0], [1, 0], [1, 1], [0, 1]];
  const a = [];
  const b = [];
  square.forEach(([u, v], k) => {
    const [x, y] = points[k];
    a.push([u, v, 1, 0, 0, 0, -u * x, -v * x], [0, 0, 0, u, v, 1, -u * y, -v * y]);
    b.push(x, y);
  });
  const h = solve(a, b);
  return h ? [...h, 1] : null;
}

export function through(h, u, v) {
  const w = h[6] * u + h[7] * v + h[8];
  return [(h[0] * u + h[1] * v + h[2]) / w, (h[3] * u + h[4] * v + h[5]) / w];
}

// The largest part of a quadrilateral about its middle that lies in a picture of this size and is the
// same rectangle on the cloth, only smaller; null if there is none. Corners that lie outside cannot be
// moved to the margin one by one: they would be a rectangle no longer.
export function inside(points, { width, height }) {
  const h = fromSquare(points);
  if (!h) return null;
  const part = (share) => [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([u, v]) => through(h, 0.5 + u * share / 2, 0.5 + v * share / 2));
  const fits = (share) => part(share).every(([x, y]) => x >= 0 && y >= 0 && x <= width - 1 && y <= height - 1);
  if (fits(1)) return points;
  let [low, high] = [0, 1];
  for (let k = 0; k < HALVINGS; k += 1) {
    const share = (low + high) / 2;
    if (fits(share)) low = share; else high = share;
  }
  return low > 0 ? part(low) : null;
}

// Draws what lies between four points of a source (pixel array) straight into a canvas.
export function straighten(source, points, canvas) {
  const h = fromSquare(points);
  if (!h) return false;
  const { width, height } = canvas;
  const pen = canvas.getContext("2d");
  const out = pen.createImageData(width, height);
  for (let row = 0; row < height; row += 1) {
    for (let column = 0; column < width; column += 1) {
      const [x, y] = through(h, (column + 0.5) / width, (row + 0.5) / height);
      const [px, py] = [Math.round(x), Math.round(y)];
      const to = (row * width + column) * 4;
      if (px < 0 || py < 0 || px >= source.width || py >= source.height) { out.data[to + 3] = 0; continue; }
      const from = (py * source.width + px) * 4;
      out.data[to] = source.data[from];
      out.data[to + 1] = source.data[from + 1];
      out.data[to + 2] = source.data[from + 2];
      out.data[to + 3] = 255;
    }
  }
  pen.putImageData(out, 0, 0);
  return true;
}
