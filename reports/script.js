'use strict';
// The viewer of the pictures around a divergence. It does nothing until somebody
// acts, and it is not needed to read the page: without it the still pictures of
// the divergent frame are shown.
(() => {
  // WCAG 2.2, 2.3.1 allows three flashes, six changes, in a second: pictures never
  // change faster than five times a second, whatever is held down or dragged.
  const slow = matchMedia('(prefers-reduced-motion: reduce)');
  const pause = () => slow.matches ? 500 : 200;
  const block = 8, bright = 4, gap = 24;
  const views = ['pair', 'slide', 'diff'];
  const clamp = (v, lo, hi) => Math.min(Math.max(v, lo), hi);

  // Some browsers disturb what is read back from a canvas, against fingerprinting.
  const exact = (() => {
    const c = document.createElement('canvas').getContext('2d');
    if (!c) return false;
    c.fillStyle = '#0a64c8';
    c.fillRect(0, 0, 4, 4);
    const p = c.getImageData(0, 0, 4, 4).data;
    for (let i = 0; i < 64; i += 4) if (p[i] !== 10 || p[i + 1] !== 100 || p[i + 2] !== 200) return false;
    return true;
  })();

  class Viewer {
    constructor(root) {
      this.root = root;
      this.part = root.closest('.part');
      const one = q => root.querySelector(q);
      this.data = JSON.parse(one('script').textContent);
      this.stage = one('.v-stage');
      this.panes = {};
      for (const f of root.querySelectorAll('[data-pane]')) {
        this.panes[f.dataset.pane] = {
          canvas: f.querySelector('canvas'), pic: f.querySelector('.v-pic'), scroll: f.querySelector('.v-scroll'),
          none: f.querySelector('.v-none'), paths: f.querySelectorAll('path'),
        };
      }
      this.over = one('.v-over');
      this.input = {};
      for (const e of root.querySelectorAll('[data-in]')) this.input[e.dataset.in] = e;
      this.kept = new Map();
      this.at = this.want = this.data.start;
      this.view = 'pair';
      this.cut = this.data.w >> 1;
      this.chosen = 0; // scale that somebody chose, 0 for none
      this.pixel = [0, 0];
      if (this.data.box) {
        const [x, y, w, h] = this.data.box;
        this.pixel = [x + (w >> 1), y + (h >> 1)];
      }
      this.pixel = [clamp(this.pixel[0], 0, this.data.w - 1), clamp(this.pixel[1], 0, this.data.h - 1)];
      this.input.x.max = this.data.w - 1;
      this.input.y.max = this.data.h - 1;
      this.drawn = 0;
      this.listen();
      root.style.setProperty('--w', this.data.w);
      root.style.setProperty('--h', this.data.h);
      root.hidden = false;
      this.part.classList.add('stepped');
      this.lay();
      this.show();
    }

    listen() {
      const on = (e, what, how) => e.addEventListener(what, how);
      const acts = {
        back: () => this.go(this.want - 1), on: () => this.go(this.want + 1),
        part: () => this.go(this.data.start), close: () => this.close(),
      };
      for (const b of this.root.querySelectorAll('[data-do]')) on(b, 'click', acts[b.dataset.do]);
      for (const r of this.root.querySelectorAll('input[type=radio]')) {
        on(r, 'change', () => { this.view = r.value; this.lay(); this.paint(); });
      }
      on(this.input.frame, 'input', () => this.go(this.input.frame.valueAsNumber));
      on(this.input.scale, 'change', () => { this.chosen = +this.input.scale.value; this.lay(); this.centre(); });
      on(this.input.blocks, 'change', () => this.paint());
      on(this.input.cut, 'input', () => this.divide(this.input.cut.valueAsNumber));
      for (const k of ['x', 'y']) on(this.input[k], 'input', () => this.probe(this.input.x.valueAsNumber, this.input.y.valueAsNumber, true));
      on(this.root, 'keydown', e => this.key(e));
      for (const [name, p] of Object.entries(this.panes)) {
        on(p.scroll, 'scroll', () => this.follow(p));
        on(p.pic, 'pointerdown', e => {
          this.point(e, p);
          if (name === 'a' && this.view === 'slide' && e.button === 0) {
            e.preventDefault();
            p.pic.setPointerCapture(e.pointerId);
            this.stage.focus({preventScroll: true});
            this.drag(e, p);
          }
        });
        on(p.pic, 'pointermove', e => {
          this.point(e, p);
          if (p.pic.hasPointerCapture(e.pointerId)) this.drag(e, p);
        });
      }
      addEventListener('resize', () => this.lay());
    }

    key(e) {
      if (e.target.matches('input, select') || e.altKey || e.ctrlKey || e.metaKey) return;
      const by = {ArrowLeft: -1, ArrowRight: 1}[e.key];
      if (by && e.shiftKey) this.scroller().scrollLeft += by * 8 * this.scale;
      else if (by) this.go((e.repeat ? this.at : this.want) + by);
      else if (e.key === 'Home') this.go(0);
      else if (e.key === 'End') this.go(this.data.frames.length - 1);
      else return;
      e.preventDefault();
    }

    scroller() { return this.panes[this.view === 'diff' ? 'd' : 'a'].scroll; }

    // go asks for a frame; it is shown when the one before was seen long enough.
    go(i) {
      this.want = clamp(i, 0, this.data.frames.length - 1);
      if (this.timer) return;
      const wait = this.drawn + pause() - performance.now();
      if (wait <= 0) this.show();
      else this.timer = setTimeout(() => { this.timer = 0; this.show(); }, wait);
    }

    async show() {
      const i = this.want;
      this.drawn = performance.now();
      const pictures = await this.load(i);
      if (i !== this.want && this.timer) return; // overtaken
      this.at = i;
      this.pictures = pictures;
      this.tell();
      this.paint();
    }

    load(i) {
      let p = this.kept.get(i);
      if (!p) {
        p = Promise.all([this.decode(this.data.frames[i].a), this.decode(this.data.frames[i].b)]).then(([a, b]) => ({a, b}));
        this.kept.set(i, p);
        if (this.kept.size > 8) this.kept.delete(this.kept.keys().next().value);
      }
      return p;
    }

    async decode(side) {
      if (!/^data:image\/(png|jpeg);base64,/.test(side.src)) return null;
      const img = new Image();
      img.src = side.src;
      try {
        await img.decode();
      } catch {
        return null;
      }
      const c = document.createElement('canvas');
      c.width = this.data.w;
      c.height = this.data.h;
      const g = c.getContext('2d', {willReadFrequently: true});
      g.drawImage(img, 0, 0);
      return {img, pixels: g.getImageData(0, 0, c.width, c.height).data};
    }

    // tell writes what is known of the frame in words.
    tell() {
      const f = this.data.frames[this.at], one = q => this.root.querySelector(q);
      this.root.dataset.frame = f.frame;
      this.input.frame.value = this.at;
      this.input.frame.setAttribute('aria-valuetext', 'frame ' + f.label + ', ' + f.verdict);
      one('.v-frame').textContent = 'Frame ' + f.label;
      const differing = this.differing();
      const words = one('.v-words');
      words.className = 'v-words verdict ' + f.tone;
      words.textContent = f.verdict + (differing ? differing.size ? '; ' + differing.size + (differing.size === 1 ? ' block differs' : ' blocks differ') : '; no block differs' : '');
      const hide = document.createElement('span');
      hide.className = 'hide';
      hide.textContent = 'Frame ' + f.label + ': ';
      words.prepend(hide);
      for (const run of ['a', 'b']) {
        const row = one('[data-run=' + run + ']'), s = f[run];
        row.className = f.differ ? 'differs' : '';
        row.cells[1].textContent = s.reads + (f.differ ? ' ≠' : '');
        row.cells[2].textContent = s.program ? s.program + (s.mark ? ' (' + s.mark + ')' : '') : 'none';
      }
      for (const [what, end] of [['back', 0], ['on', this.data.frames.length - 1]]) {
        one('[data-do=' + what + ']').setAttribute('aria-disabled', this.at === end);
      }
      this.link();
    }

    link() {
      const f = this.data.frames[this.at];
      const hash = [this.part.id, f.frame, this.view, this.scale, this.cut].join(':');
      this.root.querySelector('.v-link').href = '#' + hash;
    }

    // differing gives the blocks whose colours are apart in the mean, as a set of
    // numbers counted by rows; null when a picture is unseen.
    differing() {
      const {a, b} = this.pictures;
      if (!a || !b) return null;
      if (this.pictures.differing) return this.pictures.differing;
      const {w, h, level} = this.data, out = new Set(), columns = Math.ceil(w / block);
      for (let by = 0; by < h; by += block) {
        for (let bx = 0; bx < w; bx += block) {
          const sum = [0, 0, 0];
          let n = 0;
          for (let y = by; y < Math.min(by + block, h); y++) {
            for (let x = bx; x < Math.min(bx + block, w); x++, n++) {
              const i = 4 * (y * w + x);
              for (let c = 0; c < 3; c++) sum[c] += Math.abs(a.pixels[i + c] - b.pixels[i + c]);
            }
          }
          if (Math.max(...sum) / n > level) out.add(by / block * columns + bx / block);
        }
      }
      return this.pictures.differing = out;
    }

    paint() {
      if (!this.pictures) return;
      const {w, h, frames} = this.data, {a, b} = this.pictures, f = frames[this.at];
      const draw = (canvas, p) => {
        const g = canvas.getContext('2d');
        g.clearRect(0, 0, w, h);
        if (p) g.drawImage(p.img, 0, 0);
      };
      const none = (pane, text) => {
        pane.none.hidden = !text;
        pane.none.textContent = text;
      };
      const why = (p, side) => p ? '' : 'unseen: ' + (side.unseen || 'the picture could not be decoded');
      const slide = this.view === 'slide';
      draw(this.panes.a.canvas, a);
      draw(this.panes.b.canvas, b);
      draw(this.over, slide ? b : null);
      const label = (c, text) => c.setAttribute('aria-label', text);
      label(this.panes.a.canvas, f.a.alt || 'unseen');
      label(this.panes.b.canvas, f.b.alt || 'unseen');
      label(this.over, f.b.alt || 'unseen');
      label(this.panes.d.canvas, 'difference of both runs at frame ' + f.label);
      none(this.panes.a, slide ? [why(a, f.a) && 'left ' + why(a, f.a), why(b, f.b) && 'right ' + why(b, f.b)].filter(Boolean).join('; ') : why(a, f.a));
      none(this.panes.b, why(b, f.b));
      none(this.panes.d, a && b ? '' : 'no difference: a picture is unseen');
      const g = this.panes.d.canvas.getContext('2d');
      g.clearRect(0, 0, w, h);
      if (a && b && this.view === 'diff') {
        const out = g.createImageData(w, h);
        for (let i = 0; i < out.data.length; i += 4) {
          const d = Math.max(Math.abs(a.pixels[i] - b.pixels[i]), Math.abs(a.pixels[i + 1] - b.pixels[i + 1]), Math.abs(a.pixels[i + 2] - b.pixels[i + 2]));
          out.data[i] = out.data[i + 1] = out.data[i + 2] = Math.min(d * bright, 255);
          out.data[i + 3] = 255;
        }
        g.putImageData(out, 0, 0);
      }
      const d = this.input.blocks.checked ? this.outline() : '';
      for (const p of Object.values(this.panes)) for (const path of p.paths) path.setAttribute('d', d);
      this.divide(this.cut);
      this.probe(...this.pixel, true);
    }

    // outline goes round the blocks that differ.
    outline() {
      const set = this.differing(), {w, h} = this.data, columns = Math.ceil(w / block);
      let d = '';
      for (const k of set || []) {
        const cx = k % columns, x = cx * block, y = (k - cx) / columns * block;
        const bw = Math.min(block, w - x), bh = Math.min(block, h - y);
        if (!set.has(k - columns)) d += `M${x} ${y}h${bw}`;
        if (!set.has(k + columns)) d += `M${x} ${y + bh}h${bw}`;
        if (cx === 0 || !set.has(k - 1)) d += `M${x} ${y}v${bh}`;
        if (cx === columns - 1 || !set.has(k + 1)) d += `M${x + bw} ${y}v${bh}`;
      }
      return d;
    }

    divide(x) {
      this.cut = clamp(Math.round(x) || 0, 0, this.data.w);
      this.input.cut.value = this.cut;
      this.input.cut.setAttribute('aria-valuetext', this.cut + ' pixels from the left');
      this.root.style.setProperty('--cut', this.cut);
      this.link();
    }

    place(e, p) {
      const r = p.pic.getBoundingClientRect();
      return [(e.clientX - r.left) / r.width * this.data.w, (e.clientY - r.top) / r.height * this.data.h];
    }

    drag(e, p) { this.divide(this.place(e, p)[0]); }

    point(e, p) {
      const [x, y] = this.place(e, p);
      this.probe(Math.floor(x), Math.floor(y), false);
    }

    // probe tells the colours of a pixel; typed keeps what stands in the fields.
    probe(x, y, typed) {
      if (!Number.isFinite(x) || !Number.isFinite(y)) return;
      const {w, h} = this.data;
      x = clamp(Math.floor(x), 0, w - 1);
      y = clamp(Math.floor(y), 0, h - 1);
      this.pixel = [x, y];
      if (!typed || document.activeElement !== this.input.x) this.input.x.value = x;
      if (!typed || document.activeElement !== this.input.y) this.input.y.value = y;
      const out = this.root.querySelector('.v-colours');
      out.replaceChildren();
      if (!exact) {
        out.textContent = 'this browser does not give the colours of pixels, so differences may be wrong too';
        return;
      }
      const i = 4 * (y * w + x), {a, b} = this.pictures || {};
      const colour = (name, p) => {
        const s = document.createElement('span'), [r, g, bl] = p ? p.pixels.slice(i, i + 3) : [];
        s.className = 'v-colour';
        s.append(name + ' ');
        if (p) {
          const swatch = document.createElement('i');
          swatch.style.backgroundColor = `rgb(${r} ${g} ${bl})`;
          s.append(swatch, '#' + [r, g, bl].map(v => v.toString(16).padStart(2, '0')).join('') + ` (${r}, ${g}, ${bl})`);
        } else {
          s.append('unseen');
        }
        out.append(s);
      };
      colour('first run', a);
      colour('second run', b);
      if (a && b) {
        const s = document.createElement('span');
        s.className = 'v-colour';
        s.textContent = 'apart ' + Math.max(...[0, 1, 2].map(c => Math.abs(a.pixels[i + c] - b.pixels[i + c])));
        out.append(s);
      }
    }

    // lay fits the pictures into the window, in whole pixels.
    lay() {
      if (!views.includes(this.view)) this.view = 'pair';
      const {w, h} = this.data, wide = this.stage.clientWidth;
      if (!wide) return;
      this.root.dataset.view = this.view;
      const two = this.view === 'pair' && wide >= 2 * w + gap;
      this.root.classList.toggle('two', two);
      const fit = Math.min(Math.floor((two ? (wide - gap) / 2 : wide) / w), Math.floor(0.8 * innerHeight / h));
      this.scale = clamp(this.chosen || fit, 1, 8);
      this.input.scale.value = this.scale;
      this.root.style.setProperty('--z', this.scale);
      this.link();
      for (const {scroll: s} of Object.values(this.panes)) { // a stop for the keyboard only where there is something to scroll
        if (s.scrollWidth > s.clientWidth || s.scrollHeight > s.clientHeight) {
          s.tabIndex = 0;
          s.setAttribute('role', 'group');
          s.setAttribute('aria-label', 'Magnified picture. Arrow keys up and down scroll it, with Shift also left and right.');
        } else {
          for (const a of ['tabindex', 'role', 'aria-label']) s.removeAttribute(a);
        }
      }
    }

    close() {
      const {w, h, box} = this.data;
      if (!box) {
        this.chosen = this.chosen ? 0 : 4;
      } else if (this.chosen) {
        this.chosen = 0;
      } else {
        const s = this.scroller(), two = this.view === 'pair' && this.stage.clientWidth >= 2 * w + gap;
        const room = two ? (this.stage.clientWidth - gap) / 2 : this.stage.clientWidth;
        this.chosen = clamp(Math.min(Math.floor(room / (box[2] + 16)), Math.floor(0.8 * innerHeight / (box[3] + 16))), 1, 8);
      }
      this.lay();
      this.centre();
    }

    // centre scrolls to the place that differs.
    centre() {
      const box = this.data.box || [...this.pixel, 1, 1], s = this.scroller();
      s.scrollLeft = (box[0] + box[2] / 2) * this.scale - s.clientWidth / 2;
      s.scrollTop = (box[1] + box[3] / 2) * this.scale - s.clientHeight / 2;
      this.follow({scroll: s});
    }

    // follow scrolls the other pictures as one was. What they then tell of is no
    // news: to follow that would stop a scroll that is still under way.
    follow(p) {
      const x = p.scroll.scrollLeft, y = p.scroll.scrollTop, told = p.told;
      p.told = null;
      if (told && told[0] === x && told[1] === y) return;
      for (const q of Object.values(this.panes)) {
        if (q.scroll !== p.scroll && q.scroll.clientWidth && (q.scroll.scrollLeft !== x || q.scroll.scrollTop !== y)) {
          q.scroll.scrollLeft = x;
          q.scroll.scrollTop = y;
          q.told = [q.scroll.scrollLeft, q.scroll.scrollTop];
        }
      }
    }

    // open shows what a link asks for: frame, view, scale, divider.
    open(frame, view, scale, cut) {
      const i = this.data.frames.findIndex(f => f.frame === +frame);
      if (views.includes(view)) this.view = view;
      for (const r of this.root.querySelectorAll('input[type=radio]')) r.checked = r.value === this.view;
      if (+scale >= 1 && +scale <= 8) this.chosen = Math.floor(+scale);
      if (cut) this.cut = clamp(+cut || 0, 0, this.data.w);
      this.lay();
      if (this.chosen) this.centre();
      if (i >= 0) this.go(i);
      this.paint();
    }
  }

  const made = new Map();
  const make = root => {
    if (!made.has(root)) made.set(root, new Viewer(root));
    return made.get(root);
  };
  for (const root of document.querySelectorAll('.viewer')) {
    const folded = root.closest('details:not([open])');
    if (folded) folded.addEventListener('toggle', () => { if (folded.open) make(root); });
    else make(root);
  }
  const open = () => {
    const [id, ...rest] = location.hash.slice(1).split(':');
    const part = rest.length ? document.getElementById(id) : null;
    const root = part && part.querySelector('.viewer');
    if (!root) return;
    const folded = part.closest('details');
    if (folded) folded.open = true;
    make(root).open(...rest);
    part.scrollIntoView();
  };
  addEventListener('hashchange', open);
  open();
})();
