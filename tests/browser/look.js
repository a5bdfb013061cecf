// Looks at every page as a reader does, and writes what is wrong into the document, one finding a line.
"use strict";

const SLACK = 1.5; // [px] letters reach a little over their boxes
const CONTRAST = 4.5; // WCAG 2.2, 1.4.3: least contrast of text, level AA

function rgb(text) {
  const found = text.match(/[\d.]+/g).map(Number);
  return { r: found[0], g: found[1], b: found[2], a: found.length > 3 ? found[3] : 1 };
}

function luminance(c) {
  const part = (v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4);
  return 0.2126 * part(c.r) + 0.7152 * part(c.g) + 0.0722 * part(c.b);
}

function grey(c) {
  // Filter Effects 1, grayscale(1)
  const v = 0.2126 * c.r + 0.7152 * c.g + 0.0722 * c.b;
  return { r: v, g: v, b: v, a: 1 };
}

function contrast(one, other) {
  const [a, b] = [luminance(one), luminance(other)].sort((x, y) => y - x);
  return (a + 0.05) / (b + 0.05);
}

function behind(element, view) {
  for (let e = element; e; e = e.parentElement) {
    const c = rgb(view.getComputedStyle(e).backgroundColor);
    if (c.a > 0) return c;
  }
  return { r: 255, g: 255, b: 255, a: 1 };
}

// Every piece of text that can be seen, with its boxes, one for each line.
function pieces(doc) {
  const view = doc.defaultView, found = [];
  const walker = doc.createTreeWalker(doc.body, NodeFilter.SHOW_TEXT);
  const seen = new Map();
  while (walker.nextNode()) {
    const node = walker.currentNode, at = node.parentElement;
    if (!node.data.trim() || at.closest("script, style, title, desc, .skip, details:not([open]) > :not(summary)")) continue;
    if (!seen.has(at)) {
      const style = view.getComputedStyle(at);
      seen.set(at, style.visibility === "visible" && style.display !== "none" ? style : null);
    }
    const style = seen.get(at);
    if (!style) continue;
    const range = doc.createRange();
    range.selectNodeContents(node);
    const boxes = [...range.getClientRects()].filter((r) => r.width > 0 && r.height > 0 && r.right > -900);
    if (boxes.length) found.push({ text: node.data.trim().slice(0, 40), at, style, boxes });
  }
  return found;
}

function meet(a, b) {
  return a.left + SLACK < b.right && b.left + SLACK < a.right && a.top + SLACK < b.bottom && b.top + SLACK < a.bottom;
}

function overlaps(found, say) {
  // A line box is higher than its letters: only the middle part of each is held against the others.
  const all = [];
  for (const p of found) for (const r of p.boxes) {
    const cut = 0.18 * r.height;
    all.push({ p, left: r.left, right: r.right, top: r.top + cut, bottom: r.bottom - cut });
  }
  all.sort((a, b) => a.top - b.top);
  for (let i = 0; i < all.length; i++) {
    for (let j = i + 1; j < all.length && all[j].top < all[i].bottom; j++) {
      const one = all[i], other = all[j];
      if (one.p === other.p || !meet(one, other)) continue;
      if (hidden(one) || hidden(other)) continue;
      say(`'${one.p.text}' overlaps '${other.p.text}'`);
    }
  }
}

// What has been scrolled out of a box of its own is not on top of anything.
function hidden(piece) {
  const box = piece.p.at.closest(".scroll");
  if (!box) return false;
  const frame = box.getBoundingClientRect();
  return piece.right > frame.right + SLACK || piece.left < frame.left - SLACK;
}

function cutOff(found, doc, say) {
  const width = doc.documentElement.clientWidth;
  for (const { text, at, boxes } of found) {
    if (at.closest(".scroll")) continue;
    if (boxes.some((r) => r.right > width + SLACK || r.left < -SLACK)) say(`'${text}' is cut off at the edge`);
  }
  for (const { text, at, boxes } of found) {
    for (let e = at; e && e !== doc.body; e = e.parentElement) {
      const style = doc.defaultView.getComputedStyle(e);
      if (style.overflowX !== "hidden" && style.overflowX !== "clip") continue;
      if (e.tagName.toLowerCase() === "svg") continue;
      const frame = e.getBoundingClientRect();
      if (boxes.some((r) => r.right > frame.right + SLACK || r.bottom > frame.bottom + SLACK)) say(`'${text}' is cut off by its box`);
    }
  }
}

function dim(found, doc, say) {
  for (const { text, at, style } of found) {
    const drawn = at.namespaceURI.endsWith("svg");
    const ink = rgb(drawn ? style.fill : style.color);
    const paper = drawn && luminance(ink) > 0.9 ? { r: 0, g: 0, b: 0, a: 1 } : drawn ? { r: 255, g: 255, b: 255, a: 1 } : behind(at, doc.defaultView);
    const least = Math.min(contrast(ink, paper), contrast(grey(ink), grey(paper)));
    if (least < CONTRAST) say(`'${text}' is too faint: contrast ${least.toFixed(2)}`);
  }
}

function drawings(doc, say) {
  for (const svg of doc.querySelectorAll("svg")) {
    const frame = svg.getBoundingClientRect();
    const words = [...svg.querySelectorAll("text")].map((t) => ({ t, r: t.getBoundingClientRect() }));
    for (const { t, r } of words) {
      if (r.left < frame.left - SLACK || r.right > frame.right + SLACK || r.top < frame.top - SLACK || r.bottom > frame.bottom + SLACK) {
        say(`'${t.textContent}' leaves the picture '${svg.querySelector("title").textContent}'`);
      }
    }
    const scale = frame.width / svg.viewBox.baseVal.width;
    const told = words.filter(({ t }) => !t.closest(".connections"));
    for (const line of svg.querySelectorAll(".connections polyline")) {
      const half = (parseFloat(line.getAttribute("stroke-width") || "1.2") / 2) * scale;
      const where = line.getScreenCTM();
      const points = [...line.points].map((p) => p.matrixTransform(where));
      for (let i = 1; i < points.length; i++) {
        const [a, b] = [points[i - 1], points[i]];
        const run = { left: Math.min(a.x, b.x) - half, right: Math.max(a.x, b.x) + half, top: Math.min(a.y, b.y) - half, bottom: Math.max(a.y, b.y) + half };
        for (const { t, r } of told) {
          const cut = 0.2 * r.height;
          if (meet(run, { left: r.left, right: r.right, top: r.top + cut, bottom: r.bottom - cut })) {
            say(`a line runs through '${t.textContent}' in '${svg.querySelector("title").textContent}'`);
          }
        }
      }
    }
  }
}

function look(doc, say) {
  const page = doc.documentElement;
  if (page.scrollWidth > page.clientWidth + SLACK) say(`the page scrolls sideways: ${page.scrollWidth} in ${page.clientWidth}`);
  const found = pieces(doc);
  if (!found.length) say("nothing can be read");
  overlaps(found, say);
  cutOff(found, doc, say);
  dim(found, doc, say);
  drawings(doc, say);
}

addEventListener("load", () => {
  const lines = [];
  let count = 0;
  for (const frame of document.querySelectorAll("iframe")) {
    count += 1;
    try {
      look(frame.contentDocument, (what) => lines.push(`${frame.title}: ${what}`));
    } catch (error) {
      lines.push(`${frame.title}: ${error}`);
    }
  }
  const out = document.createElement("pre");
  out.id = "findings";
  out.textContent = [`looked at ${count}`, ...new Set(lines)].join("\n");
  document.body.replaceChildren(out);
});
