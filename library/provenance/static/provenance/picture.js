// Arrow keys go from mark to mark in the picture of a chain; Tab works without this.
(function () {
  "use strict";
  const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

  function next(links, from, way) {
    const [x, y] = [Number(from.dataset.x), Number(from.dataset.y)];
    let best = null;
    let nearest = Infinity;
    for (const link of links) {
      const dx = Number(link.dataset.x) - x;
      const dy = Number(link.dataset.y) - y;
      const along = dx * way[0] + dy * way[1];
      if (along <= 0) continue;
      const aside = Math.abs(dx * way[1]) + Math.abs(dy * way[0]);
      if (along + 3 * aside < nearest) {
        nearest = along + 3 * aside;
        best = link;
      }
    }
    return best;
  }

  // The lot that was asked for stands at the end of its chain: begin there.
  for (const start of document.querySelectorAll("svg[data-chain] .start")) {
    const box = start.closest(".scroll");
    const middle = Number(start.querySelector("a").dataset.x) - box.clientWidth / 2;
    box.scrollLeft = Math.max(0, middle);
    box.scrollTop = Number(start.querySelector("a").dataset.y) - box.clientHeight / 2;
  }

  document.addEventListener("keydown", function (event) {
    const way = ways[event.key];
    const from = event.target.closest && event.target.closest("svg[data-chain] a");
    if (!way || !from) return;
    const links = from.ownerSVGElement.querySelectorAll("a:not(.more)");
    const to = next(links, from, way);
    if (!to) return;
    event.preventDefault();
    to.focus();
    to.scrollIntoView({ block: "nearest", inline: "nearest" });
  });
})();
