"use strict";
// Maps of the stall: the wing from tip to tip over time, light where the flow is attached, dark where it has left.
(() => {
  const LEFT = 72, TOP = 8, BELOW = 34, KEY = 84, LIGHT = [247, 244, 232], DARK = [74, 16, 48], SHADES = 15;
  const shade = (n) => `rgb(${LIGHT.map((x, k) => Math.round(x + ((DARK[k] - x) * n) / SHADES)).join(",")})`;

  function draw(figure) {
    const flight = page.manoeuvres[figure.dataset.manoeuvre].flights[figure.dataset.flight], { stall } = flight;
    const canvas = figure.querySelector("canvas"), ctx = canvas.getContext("2d"), ratio = Math.max(2, devicePixelRatio);
    const wide = canvas.clientWidth, tall = canvas.clientHeight;
    if (!wide) return;
    [canvas.width, canvas.height] = [wide * ratio, tall * ratio];
    ctx.scale(ratio, ratio);
    const [right, bottom] = [wide - KEY, tall - BELOW], columns = stall.rows[0].length, seconds = columns * stall.step;
    const x = (t) => LEFT + ((right - LEFT) * t) / seconds, y = (place) => TOP + ((bottom - TOP) * (place + 1)) / 2;
    // a strip reaches half-way to its neighbours, the last ones to the tips
    const edges = [-1, ...stall.span.slice(1).map((place, n) => (place + stall.span[n]) / 2), 1];
    stall.rows.forEach((row, strip) => {
      for (let n = 0; n < columns; n++) {
        ctx.fillStyle = shade(parseInt(row[n], 16));
        ctx.fillRect(x(n * stall.step), y(edges[strip]), x(stall.step) - LEFT + 0.6, y(edges[strip + 1]) - y(edges[strip]) + 0.6);
      }
    });
    ctx.strokeStyle = ctx.fillStyle = "#1c2126";
    ctx.lineWidth = 1;
    ctx.strokeRect(LEFT, TOP, right - LEFT, bottom - TOP);
    ctx.font = "12px sans-serif";
    ctx.textBaseline = "middle";
    ctx.textAlign = "right";
    for (const [name, place] of [["left tip", -0.94], ["middle", 0], ["right tip", 0.94]]) ctx.fillText(name, LEFT - 8, y(place));
    ctx.textAlign = "center";
    const tick = [0.5, 1, 2, 5, 10, 20].find((step) => seconds / step <= 8) ?? 60;
    for (let t = Math.ceil(-flight.zero / tick) * tick; t + flight.zero <= seconds; t += tick) {
      ctx.fillRect(x(t + flight.zero), bottom, 1, 4);
      ctx.fillText(`${t}`, x(t + flight.zero), bottom + 11);
    }
    ctx.fillText("time, s", (LEFT + right) / 2, bottom + 26);
    ctx.textAlign = "left";
    for (const [n, word] of [[0, "attached"], [SHADES / 2, "half"], [SHADES, "separated"]]) {
      const at = TOP + 8 + (n / SHADES) * 44;
      ctx.fillStyle = shade(n);
      ctx.fillRect(right + 8, at - 7, 14, 14);
      ctx.strokeRect(right + 8, at - 7, 14, 14);
      ctx.fillStyle = "#1c2126";
      ctx.fillText(word, right + 27, at);
    }
  }

  const resized = new ResizeObserver((entries) => entries.forEach(({ target }) => draw(target)));
  for (const figure of document.querySelectorAll("figure.stall")) resized.observe(figure);
})();
