// Every figure that a page shows, and whether a reply of the program holds it. A figure may stand in another unit and with fewer
// digits than in the reply; a count of what a reply lists counts as held by it.

/// Replies that are drawn, not written: their thousands of values would hold any figure.
const kDrawn = /\/traces\?|\/chart\/track\?|\/chart\/section\?/;

/// Keeps every JSON reply that a tab gets.
export function listenTo(page) {
  const replies = [];
  page.on('response', (r) => {
    const {pathname} = new URL(r.url());
    if (!pathname.startsWith('/api/v1/') || pathname.endsWith('/events') || kDrawn.test(r.url())) return;
    // A reply that was cut off by a reload is no reply.
    replies.push(r.json().catch(() => null));
  });
  return async () => (await Promise.all(replies)).filter((r) => r !== null);
}

/// The text of the page, one line for each element that has some. What is drawn as a scale, an item number or only for paper is
/// left out; so are form fields, which hold what a person typed.
export const linesOf = (page) => page.evaluate(() => {
  const lines = new Map();
  const walk = document.createTreeWalker(document.querySelector('#app'), NodeFilter.SHOW_TEXT);
  for (let n = walk.nextNode(); n; n = walk.nextNode()) {
    const e = n.parentElement;
    if (n.data.trim() === '' || e.closest('[aria-hidden="true"], .print-only, .n, .item, .balloon, .foot, textarea, option')) continue;
    if (!e.checkVisibility()) continue;
    lines.set(e, (lines.get(e) ?? '') + n.data);
  }
  return [...lines.values()].map((l) => l.replace(/\s+/g, ' ').trim());
});

/// Words of the page itself that have a figure in them.
const kOwnWords = [
  /95 %/g,                 // the interval that every ± means
  /MDF 4/g,                // a file format
  /0\.050 in/g,            // where a cam's duration is measured
  /\b\d of 6\b/g,          // which sheet of the set
  /, every [\d.]+/g,       // step of the contours, a scale
  /[−+]6( % fuel)?\b/g,    // ends of the wash, a scale
  /Arrow keys.*/g,
];

const kUnits = [  // factor and offset from SI; NIST SP 811, appendix B
  [1, 0], [100, 0], [1e-3, 0], [1e3, 0], [1e-5, 0], [1, -273.15], [1.8, -459.67], [180 / Math.PI, 0], [3.6, 0], [1 / 0.44704, 0],
  [1 / 745.6998715822702, 0], [1 / 1.3558179483314004, 0], [3600 / 0.45359237, 0], [3.6e6, 0], [3600 / 3.785411784e-3, 0],
  [1 / 6894.757293168361, 0], [1 / 3386.389, 0], [1 / 1048576, 0], [1 / 1024, 0],
];

/// What replies hold: numbers, the words with figures in them, and how many there are of everything they list.
export class Held {
  constructor(replies) {
    this.numbers = [];
    this.text = '';
    const units = new Map(kUnits.map((u) => [u.join(), u]));
    const read = (v) => {
      if (typeof v === 'number') {
        this.numbers.push(Math.abs(v));
      } else if (typeof v === 'string') {
        this.text += `${v}\n`;
      } else if (Array.isArray(v)) {
        this.numbers.push(v.length);
        for (const n of counts(v)) this.numbers.push(n);
        v.forEach(read);
      } else if (v !== null && typeof v === 'object') {
        if (typeof v.factor === 'number') units.set(`${v.factor},${v.offset ?? 0}`, [v.factor, v.offset ?? 0]);
        Object.values(v).forEach(read);
      }
    };
    replies.forEach(read);
    for (const t of figuresIn(this.text)) this.numbers.push(t.value);
    this.numbers = Float64Array.from(new Set(this.numbers)).sort();
    this.units = [...units.values()];
  }

  /// Whether a figure with this many digits after the point is one of them, in any unit.
  has(value, give) {
    for (const [factor, offset] of this.units) {
      for (const sign of [1, -1]) {
        const si = (sign * value - offset) / factor, room = Math.abs(give / factor) * (1 + 1e-9) + 1e-12;
        if (this.near(Math.abs(si), room)) return true;
      }
    }
    return false;
  }

  near(value, room) {
    let low = 0, high = this.numbers.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.numbers[middle] < value - room) low = middle + 1;
      else high = middle;
    }
    return low < this.numbers.length && this.numbers[low] <= value + room;
  }

  /// The figures of these lines that nothing holds.
  missing(lines) {
    const out = [];
    for (const line of lines) {
      if (this.text.includes(line)) continue;
      let rest = line;
      for (const own of kOwnWords) rest = rest.replace(own, ' ');
      // A date is held as "2026-11-28T22:54:07Z".
      rest = rest.replace(/\d{4}-\d\d-\d\d( \d\d:\d\d)?/g, (d) => (this.text.includes(d.replace(' ', 'T')) ? ' ' : d));
      for (const f of figuresIn(rest)) if (!this.has(f.value, f.give)) out.push(`${f.text} in “${line}”`);
    }
    return out;
  }
}

/// How many of a list have the same word, or yes, or no, under one key.
function counts(list) {
  const by = new Map();
  for (const one of list) {
    if (one === null || typeof one !== 'object') continue;
    for (const [key, v] of Object.entries(one)) {
      if (typeof v !== 'string' && typeof v !== 'boolean') continue;
      const name = `${key}=${v}`;
      by.set(name, (by.get(name) ?? 0) + 1);
    }
  }
  const out = new Set();
  // And how many have another one: "34 findings are fine" leaves those that are not.
  for (const n of by.values()) out.add(n).add(list.length - n);
  return out;
}

/// Durations ("1 min 30 s", "5 min", "3:35") in seconds, figures as they are; each with what rounding may have taken.
export function figuresIn(text) {
  const out = [];
  const put = (value, give, shown) => {
    out.push({value, give, text: shown});
    return ' ';
  };
  const digits = '\\d[\\d,]*(?:\\.\\d+)?';
  text.replace(/(\d+) min (\d+) s\b/g, (t, m, s) => put(m * 60 + Number(s), 0.5, t))
      .replace(/\b(?:(\d+):)?(\d+):(\d\d)\b/g, (t, h, m, s) => put((h ?? 0) * 3600 + m * 60 + Number(s), 0.5, t))
      .replace(/(?<![\w.])(\d+) min\b/g, (t, m) => put(m * 60, 30, t))
      .replace(new RegExp(`(?<![A-Za-z_\\d.])${digits}`, 'g'), (t) => {
        const plain = t.replace(/,(?=\d{3}\b)/g, '').replace(/,.*$/, '');
        return put(Number(plain), 0.5 * 10 ** -(plain.split('.')[1] ?? '').length, t);
      });
  return out;
}
