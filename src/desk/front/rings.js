// Rings over a picture: where one family has a stroke that another one lacks.

import { read } from "/front/desk.js";

const SVG = "http://www.w3.org/2000/svg";
const known = new Map();

const path = (id) => id.split("/").map(encodeURIComponent).join("/");

/** What tells `family` from `against`; null where it cannot be told. */
export function ringsOf(family, against, content) {
  const asked = `/rings/${path(family)}?against=${encodeURIComponent(against)}${content ? `&content=${content}` : ""}`;
  if (!known.has(asked)) known.set(asked, read(asked));
  return known.get(asked);
}

/** Draws rings over a picture of this width and height, which is shown whole in the middle of its box. */
export function drawRings(box, rings, width, height) {
  box.querySelector("svg.rings")?.remove();
  if (rings.length === 0) return;
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("class", "rings");
  svg.setAttribute("aria-hidden", "true");
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  for (const ring of rings) {
    for (const layer of ["under", "line"]) {
      const one = document.createElementNS(SVG, "ellipse");
      one.setAttribute("class", `${layer} ${ring.own ? "own" : "other"}`);
      one.setAttribute("cx", (ring.x + ring.w / 2) * width);
      one.setAttribute("cy", (ring.y + ring.h / 2) * height);
      // Around the corners of the place.
      one.setAttribute("rx", (ring.w * width) / Math.SQRT2);
      one.setAttribute("ry", (ring.h * height) / Math.SQRT2);
      svg.append(one);
    }
  }
  box.append(svg);
}
