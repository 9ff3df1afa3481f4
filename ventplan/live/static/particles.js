// Air as moving specks on a canvas over the plan: they follow the bands, as fast as the air is. Off where the reader
// chose so or the system asks for less motion, and still while something is held, so that the numbers come first.

const PER_WAY = 14;
const REDUCED = matchMedia("(prefers-reduced-motion: reduce)");

export const motionWanted = () => localStorage.getItem("ventplan motion") !== "off" && !REDUCED.matches;

export class Particles {
  constructor(canvas, plan) {
    Object.assign(this, { canvas, plan, ways: [], last: 0, running: false });
    plan.particles = this;
    REDUCED.addEventListener("change", () => this.start());
  }

  show(ways) {
    this.ways = ways.map((way) => new Way(way)).filter((way) => way.length > 0.2);
    this.start();
  }

  start() {
    const wanted = motionWanted() && this.ways.length > 0;
    this.canvas.hidden = !wanted;
    if (wanted && !this.running) {
      this.running = true;
      requestAnimationFrame((t) => this.frame(t));
    }
  }

  frame(time) {
    this.running = motionWanted() && this.ways.length > 0;
    if (!this.running) return;
    requestAnimationFrame((t) => this.frame(t));
    const step = Math.min((time - this.last) / 1000, 0.1);
    if (document.hidden || document.body.hasAttribute("data-holding") || step < 0.03) return;
    this.last = time;
    this.draw(step);
  }

  draw(step) {
    const { canvas, plan } = this;
    const ratio = devicePixelRatio || 1;
    const [width, height] = [canvas.clientWidth * ratio, canvas.clientHeight * ratio];
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    const context = canvas.getContext("2d");
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, width, height);
    if (!plan.box) return;
    const k = plan.scale * ratio;
    const [x0, y0] = [width / 2 - (plan.box[0] + plan.box[2] / 2) * k, height / 2 - (plan.box[1] + plan.box[3] / 2) * k];
    context.setTransform(k, 0, 0, k, x0, y0);
    context.fillStyle = getComputedStyle(canvas).color;
    context.beginPath();
    for (const way of this.ways) {
      for (const speck of way.specks) {
        way.move(speck, step);
        const [x, y] = way.at(speck);
        const size = 1.5 / plan.scale;
        context.moveTo(x + size, -y);
        context.arc(x, -y, size, 0, 2 * Math.PI);
      }
    }
    context.fill();
  }
}

class Way {
  constructor({ points, width_m: width, speeds_m_s: speeds }) {
    Object.assign(this, { points, width, speeds, sums: [0] });
    for (let i = 1; i < points.length; i += 1) this.sums.push(this.sums[i - 1] + Math.hypot(points[i][0] - points[i - 1][0], points[i][1] - points[i - 1][1]));
    this.length = this.sums.at(-1);
    const count = Math.max(2, Math.min(PER_WAY, Math.round(this.length * (1 + 8 * width))));
    this.specks = Array.from({ length: count }, (_, i) => ({ along: (i / count) * this.length, aside: ((i * 0.618) % 1) - 0.5 }));
  }

  // From the speed at the first end to that in the room within a metre, and likewise at the other end.
  speed(along) {
    const [first, middle, last] = this.speeds;
    const from = Math.max(0, 1 - along);
    const to = Math.max(0, 1 - (this.length - along));
    return middle + (first - middle) * from + (last - middle) * to;
  }

  move(speck, step) {
    speck.along += Math.max(this.speed(speck.along), 0.01) * step;
    if (speck.along >= this.length) speck.along -= this.length;
  }

  at({ along, aside }) {
    let i = 1;
    while (i < this.sums.length - 1 && this.sums[i] < along) i += 1;
    const [[ax, ay], [bx, by]] = [this.points[i - 1], this.points[i]];
    const length = this.sums[i] - this.sums[i - 1] || 1;
    const share = (along - this.sums[i - 1]) / length;
    const off = (aside * this.width * 0.8) / length;
    return [ax + (bx - ax) * share - (by - ay) * off, ay + (by - ay) * share + (bx - ax) * off];
  }
}
