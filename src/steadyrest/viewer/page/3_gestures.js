// What fingers, a mouse and its wheel do to a picture: drag, zoom, choose. Places are in pixels of the canvas.
"use strict";

// drag(dx, dy, event, fingers), zoomBy(factor, x, y), tapped(x, y); `still`: so many pixels of dragging are none yet.
steadyrest.gestures = function (canvas, { drag, zoomBy, tapped, still }) {
  const pointers = new Map();
  let moved = 0, apart = 0;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    pointers.set(event.pointerId, [event.offsetX, event.offsetY]);
    moved = pointers.size > 1 ? 99 : 0;
    apart = 0;
  });
  canvas.addEventListener("pointermove", (event) => {
    const last = pointers.get(event.pointerId);
    if (!last) return;
    const dx = event.offsetX - last[0], dy = event.offsetY - last[1];
    pointers.set(event.pointerId, [event.offsetX, event.offsetY]);
    moved += Math.abs(dx) + Math.abs(dy);
    if (pointers.size === 2) {
      const [a, b] = [...pointers.values()], distance = Math.hypot(a[0] - b[0], a[1] - b[1]);
      if (apart > 0) zoomBy(distance / apart, (a[0] + b[0]) / 2, (a[1] + b[1]) / 2);
      apart = distance;
    }
    if (moved > still) drag(dx, dy, event, pointers.size);
  });
  canvas.addEventListener("pointerup", (event) => {
    pointers.delete(event.pointerId);
    apart = 0;
    if (moved <= Math.max(still, 6)) tapped(event.offsetX, event.offsetY);
  });
  canvas.addEventListener("pointercancel", (event) => pointers.delete(event.pointerId));
  canvas.addEventListener("wheel", (event) => { event.preventDefault(); zoomBy(Math.exp(-event.deltaY * 0.0015), event.offsetX, event.offsetY); }, { passive: false });
};
