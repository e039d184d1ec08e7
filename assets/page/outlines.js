// Pictures: a message from the server to outlines and frames, and frames onto a canvas.

const MOST_SHAPES = 60000;
const SAME = 1e-3;

export class Outlines {
  // Outlines by identity, kept as long as there is room; the same outline is built once.
  constructor() {
    this.shapes = new Map();
  }

  // The frames of a message: rows of shapes. The message is laid out in renderer/page/outlines.py.
  read(buffer) {
    const length = new DataView(buffer).getUint32(0, true);
    const head = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
    const points = new Float32Array(buffer, 4 + length);
    if (this.shapes.size > MOST_SHAPES) this.shapes.clear();
    const here = new Map();
    for (const [identity, colour, opacity, first, curves] of head.shapes) {
      let shape = this.shapes.get(identity);
      if (!shape) {
        shape = { path: outline(points, first * 8, curves), colour, opacity };
        this.shapes.set(identity, shape);
      }
      here.set(identity, shape);
    }
    let last = [];
    const frames = head.frames.map(([start, end, between]) => {
      last = [...last.slice(0, start), ...between, ...(end ? last.slice(-end) : [])];
      return last.map((identity) => here.get(identity));
    });
    return { ...head, frames };
  }
}

function outline(points, at, curves) {
  const path = new Path2D();
  let x = NaN, y = NaN;
  for (let curve = 0; curve < curves; curve++, at += 8) {
    if (!(Math.abs(points[at] - x) < SAME && Math.abs(points[at + 1] - y) < SAME)) {
      if (curve) path.closePath();
      path.moveTo(points[at], points[at + 1]);
    }
    path.bezierCurveTo(points[at + 2], points[at + 3], points[at + 4], points[at + 5], points[at + 6], points[at + 7]);
    x = points[at + 6];
    y = points[at + 7];
  }
  path.closePath();
  return path;
}

// Fit a canvas's pixels to its place on the screen, so that it is sharp at any size.
export function sharpen(canvas) {
  const { width, height } = canvas.getBoundingClientRect();
  const scale = window.devicePixelRatio || 1;
  const [wide, high] = [Math.max(1, Math.round(width * scale)), Math.max(1, Math.round(height * scale))];
  if (canvas.width !== wide || canvas.height !== high) Object.assign(canvas, { width: wide, height: high });
}

export function paint(canvas, frame, [wide, high], ground) {
  const scale = Math.min(canvas.width / wide, canvas.height / high);
  draw(canvas, frame, ground, scale, (canvas.width - wide * scale) / 2, (canvas.height - high * scale) / 2);
}

// A part of a picture, named by its left, top, right and bottom, over the canvas's whole width.
export function paintPart(canvas, frame, [left, top, right], ground) {
  const scale = canvas.width / (right - left);
  draw(canvas, frame, ground, scale, -left * scale, -top * scale);
}

function draw(canvas, frame, ground, scale, left, top) {
  const context = canvas.getContext("2d", { alpha: false });
  context.setTransform(1, 0, 0, 1, 0, 0);
  context.globalAlpha = 1;
  context.fillStyle = ground;
  context.fillRect(0, 0, canvas.width, canvas.height);
  context.setTransform(scale, 0, 0, scale, left, top);
  for (const shape of frame) {
    context.globalAlpha = shape.opacity;
    context.fillStyle = shape.colour;
    context.fill(shape.path);
  }
}
