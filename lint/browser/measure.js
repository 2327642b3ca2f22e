// Measures a page as it is laid out, and sends what is wrong to the page around it. The
// checks add this script to a copy of the page; the page itself has none.
addEventListener("load", () => {
  const faults = [];
  const tell = (what) => { if (faults.length < 200) faults.push(what); };
  const label = (s) => JSON.stringify(s.trim().slice(0, 50));

  // Texts: where each line of each lies.
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const lines = [];
  let texts = 0;
  for (let n = walker.nextNode(); n; n = walker.nextNode()) {
    const e = n.parentElement;
    if (!n.data.trim() || e.closest("script, style, svg title, svg desc, .skip")) continue;
    const style = getComputedStyle(e);
    if (style.display === "none" || style.visibility === "hidden") continue;
    const range = document.createRange();
    range.selectNodeContents(n);
    const box = (e.closest(".mark") && e.closest(".f")) || e.closest("td, th, dd, dt, li, p, h1, h2, h3, figcaption, caption, svg, .boxes > div") || e;
    const outer = box.getBoundingClientRect();
    const scrolls = e.closest(".scroll");
    for (const r of e.closest("svg") ? [e.getBoundingClientRect()] : range.getClientRects()) {
      if (r.width < 1 || r.height < 1) continue;
      texts++;
      if (r.left < outer.left - 1.5 || r.right > outer.right + 1.5 || r.top < outer.top - 3 || r.bottom > outer.bottom + 3) tell("text leaves its box: " + label(n.data));
      if (!scrolls && (r.left < -1 || r.right > innerWidth + 1)) tell("text leaves the page: " + label(n.data));
      const inset = r.height * 0.18; // a line's box is higher than its letters
      lines.push({ n, l: r.left + 1, r: r.right - 1, t: r.top + inset, b: r.bottom - inset });
    }
  }
  lines.sort((a, b) => a.t - b.t);
  for (let i = 0; i < lines.length; i++) {
    for (let k = i + 1; k < lines.length && lines[k].t < lines[i].b; k++) {
      const a = lines[i], b = lines[k];
      if (a.n !== b.n && Math.min(a.r, b.r) - Math.max(a.l, b.l) > 1 && Math.min(a.b, b.b) - Math.max(a.t, b.t) > 1) tell("texts overlap: " + label(a.n.data) + " and " + label(b.n.data));
    }
  }
  if (document.documentElement.scrollWidth > innerWidth + 1) tell("the page is " + document.documentElement.scrollWidth + " wide in a window of " + innerWidth);

  // Contrast (WCAG 2.1, 1.4.3): 4.5 to 1, 3 to 1 for large letters.
  const rgb = (s) => { const m = s.match(/[\d.]+/g).map(Number); return m.length < 4 ? [...m, 1] : m; };
  const luminance = ([r, g, b]) => [r, g, b].map((c) => (c /= 255) <= 0.03928 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4).reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
  const behind = (e) => {
    const sheet = e.closest("svg")?.querySelector(".d-page"); // a drawing brings its own paper
    if (sheet) return rgb(getComputedStyle(sheet).fill);
    for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c[3] > 0.99) return c; } return [255, 255, 255, 1];
  };
  const seen = new Set();
  for (const { n } of lines) {
    const e = n.parentElement, style = getComputedStyle(e);
    const ink = e.closest("svg") ? style.fill : style.color;
    const key = ink + behind(e) + style.fontSize + style.fontWeight;
    if (seen.has(key)) continue;
    seen.add(key);
    const [a, b] = [luminance(rgb(ink)), luminance(behind(e))].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05), size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    if (ratio < (large ? 3 : 4.5)) tell("contrast of " + ratio.toFixed(2) + " to 1: " + label(n.data));
  }

  // Names and order, as a screen reader goes by them (WCAG 2.1, 1.1.1, 1.3.1, 2.4.1, 3.1.1, 4.1.2).
  const named = (e) => (e.getAttribute("aria-label") || "").trim() || (e.getAttribute("aria-labelledby") || "").split(" ").map((id) => document.getElementById(id)?.textContent || "").join("").trim();
  for (const e of document.querySelectorAll("[role=img], [role=region], nav, section")) if (!named(e)) tell("no accessible name: " + e.outerHTML.slice(0, 80));
  for (const e of document.querySelectorAll("img:not([alt])")) tell("no alternative text: " + e.outerHTML.slice(0, 80));
  for (const e of document.querySelectorAll("a")) if (!e.textContent.trim()) tell("a link without words");
  for (const e of document.querySelectorAll("thead th:not([scope])")) tell("a head without scope: " + label(e.textContent));
  for (const e of document.querySelectorAll("a[href^='#']")) if (!document.getElementById(e.getAttribute("href").slice(1))) tell("a link to nowhere: " + e.getAttribute("href"));
  const ids = [...document.querySelectorAll("[id]")].map((e) => e.id);
  for (const id of ids) if (!id || ids.indexOf(id) !== ids.lastIndexOf(id)) tell("an id stands twice, or is empty: " + JSON.stringify(id));
  let level = 0;
  for (const h of document.querySelectorAll("h1, h2, h3, h4")) {
    if (+h.tagName[1] > level + 1) tell("a level of heads is left out before " + label(h.textContent));
    level = +h.tagName[1];
  }
  if (!document.documentElement.lang) tell("no language");
  if (!document.title.trim()) tell("no title");
  if (performance.getEntriesByType("resource").length) tell("it fetches " + performance.getEntriesByType("resource").map((r) => r.name));
  parent.postMessage({ frame: window.name, width: innerWidth, texts, faults }, "*");
});
