// What does not fit on a page: cut text, text outside its box or over another, broken words, sideways scrolling.
() => {
  const SLACK = 1.5;
  const found = new Set();
  const name = (element) => {
    const own = element.id ? `#${element.id}` : element.classList.length ? `.${[...element.classList].join(".")}` : "";
    return `${element.tagName.toLowerCase()}${own}`;
  };
  const say = (what, element, text = "") => found.add(`${what}: ${name(element)} “${(text || element.textContent).trim().replace(/\s+/g, " ").slice(0, 60)}”`);
  const wide = innerWidth + 1;
  if (document.documentElement.scrollWidth > wide) found.add(`sideways: the page is ${document.documentElement.scrollWidth} px wide`);

  // a text that only a screen reader gets, or that is not shown, is none of this
  const told = (element) => element.closest(".sr, .skip, [hidden], option, script, style, title, pattern, .answer-tail");
  const shown = (element) => element.checkVisibility({ checkVisibilityCSS: true }) && !told(element);
  // what stays in sight while the page scrolls lies over the rest on purpose; what scrolls by itself is under nothing
  const layers = new Map();
  const apart = (style) => /fixed|sticky|absolute/.test(style.position) || /auto|scroll/.test(style.overflowY);
  const layer = (element) => {
    if (!element || element === document.body) return document.body;
    if (!layers.has(element)) layers.set(element, apart(getComputedStyle(element)) ? element : layer(element.parentElement));
    return layers.get(element);
  };

  for (const element of document.body.querySelectorAll("*")) {
    if (element.closest("svg") || !shown(element)) continue;
    const style = getComputedStyle(element);
    if (style.display === "inline") continue;
    const cuts = (way) => /hidden|clip/.test(way) || style.textOverflow === "ellipsis";
    const sideways = element.scrollWidth > element.clientWidth + SLACK;
    if (element.clientWidth && sideways && (cuts(style.overflowX) || element.matches("input:not([type='file'])"))) say("cut", element, element.value);
    if (element.clientWidth && sideways && /auto|scroll/.test(style.overflowX) && !element.matches("[data-scrolls]")) say("scrolls sideways", element);
    if (element.clientHeight && element.scrollHeight > element.clientHeight + SLACK && cuts(style.overflowY)) say("cut below", element);
  }

  const lines = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const range = document.createRange();
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const holder = node.parentElement;
    if (!node.data.trim() || !shown(holder)) continue;
    range.selectNodeContents(node);
    const rects = [...range.getClientRects()].filter((rect) => rect.width > 1 && rect.height > 1);
    let box = holder;
    while (getComputedStyle(box).display === "inline" && !(box instanceof SVGElement)) box = box.parentElement;
    const svg = holder.closest("svg");
    const room = (svg || box).getBoundingClientRect();
    for (const rect of rects) {
      if (rect.right > room.right + SLACK || rect.left < room.left - SLACK) say("outside its box", svg ? holder : box, node.data);
      const blank = rect.height * 0.15; // above and below the letters
      lines.push({ left: rect.left, right: rect.right, top: rect.top + blank, bottom: rect.bottom - blank, node, layer: layer(holder) });
    }
    if (rects.length > 1 && !svg && !holder.closest("[data-breaks]")) {
      for (const word of node.data.matchAll(/[\p{L}\p{N}.,]{3,}/gu)) {
        range.setStart(node, word.index);
        range.setEnd(node, word.index + word[0].length);
        const pieces = [...range.getClientRects()].filter((rect) => rect.width > 1);
        if (pieces.some((piece) => Math.abs(piece.top - pieces[0].top) > 4)) say("word broken", holder, word[0]);
      }
    }
  }

  lines.sort((one, other) => one.top - other.top);
  lines.forEach((one, place) => {
    for (let next = place + 1; next < lines.length && lines[next].top < one.bottom; next++) {
      const other = lines[next];
      if (other.node === one.node || other.layer !== one.layer) continue;
      const across = Math.min(one.right, other.right) - Math.max(one.left, other.left);
      const down = Math.min(one.bottom, other.bottom) - other.top;
      const low = Math.min(one.bottom - one.top, other.bottom - other.top);
      if (across > 2 && down > Math.max(3, low * 0.35)) say("over another text", one.node.parentElement, `${one.node.data.trim()} / ${other.node.data.trim()}`);
    }
  });
  return [...found];
}
