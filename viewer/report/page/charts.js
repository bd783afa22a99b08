"use strict";
// Charts of a channel over time, a line a setup, drawn when they come into view and on paper.
(() => {
  const figures = [...document.querySelectorAll("figure.chart")];
  const TALL = 250, ZOOM = 1.6, SHIFT = 0.3;

  function columns(manoeuvre, name) {
    // every flight was kept at the same steps from its time 0, so all lie on one grid
    const flights = page.manoeuvres[manoeuvre].flights;
    const first = (flight) => Math.round((flight.begin - flight.zero) / flight.step);
    const from = Math.min(...flights.map(first));
    const to = Math.max(...flights.map((flight) => first(flight) + flight.frames));
    const times = Array.from({ length: to - from }, (_, i) => (from + i) * flights[0].step);
    const rows = flights.map((flight) => {
      const row = new Array(times.length).fill(null);
      unpack(flight.channels[name]).forEach((value, i) => { row[first(flight) - from + i] = isNaN(value) ? null : value; });
      return row;
    });
    return [times, ...rows];
  }

  // Where each flight's phases begin: an upright line in its look, with the name of the phase for the first flight.
  function phases(flights) {
    return (u) => {
      const { ctx } = u, ratio = devicePixelRatio;
      ctx.save();
      ctx.font = `${11 * ratio}px sans-serif`;
      flights.forEach((flight, n) => {
        ctx.strokeStyle = lookOf(flight).colour;
        ctx.fillStyle = "#4a535b";
        ctx.lineWidth = ratio;
        ctx.setLineDash(lookOf(flight).dash.map((x) => x * ratio));
        let free = -Infinity;
        for (const [name, start] of flight.phases) {
          const x = u.valToPos(start - flight.zero, "x", true);
          if (x < u.bbox.left - 1 || x > u.bbox.left + u.bbox.width) continue;
          ctx.globalAlpha = 0.55;
          ctx.beginPath();
          ctx.moveTo(x, u.bbox.top);
          ctx.lineTo(x, u.bbox.top + u.bbox.height);
          ctx.stroke();
          ctx.globalAlpha = 1;
          if (n === 0 && x > free) {
            ctx.fillText(name, x + 3 * ratio, u.bbox.top + 11 * ratio);
            free = x + ctx.measureText(name).width + 8 * ratio;
          }
        }
      });
      ctx.restore();
    };
  }

  function said(manoeuvre, channel, data) {
    const lines = page.manoeuvres[manoeuvre].flights.map((flight, n) => {
      const values = data[n + 1].filter((value) => value !== null);
      const [low, high, last] = [Math.min(...values), Math.max(...values), values[values.length - 1]];
      return `${nameOf(flight)} from ${low.toFixed(1)} to ${high.toFixed(1)}, at the end ${last.toFixed(1)}`;
    });
    const way = channel.positive ? `, ${channel.positive} positive` : "";
    return `${channel.label} in ${channel.unit} over time in ${page.manoeuvres[manoeuvre].name}${way}: ${lines.join("; ")}.`;
  }

  function draw(figure, name) {
    const manoeuvre = Number(figure.dataset.manoeuvre), channel = channelNamed(name);
    const plot = figure.querySelector(".plot"), flights = page.manoeuvres[manoeuvre].flights;
    const data = columns(manoeuvre, name);
    if (figure.chart) figure.chart.destroy();
    plot.setAttribute("aria-label", said(manoeuvre, channel, data));
    const shown = (u, value) => (value === null || value === undefined ? "-" : value.toFixed(Math.abs(value) < 10 ? 2 : 1));
    const axis = { stroke: "#1c2126", font: "12px sans-serif", labelFont: "12px sans-serif", labelSize: 20, grid: { stroke: "#dddacf", width: 1 } };
    const label = `${channel.label}, ${channel.unit}${channel.positive ? ` (${channel.positive} +)` : ""}`;
    figure.chart = new uPlot({
      width: Math.max(240, plot.clientWidth), height: TALL, scales: { x: { time: false } },
      axes: [{ ...axis, label: "time, s", size: 34 }, { ...axis, label, size: 48 }],
      series: [{ label: "time, s", value: shown }, ...flights.map((flight) => ({
        label: nameOf(flight), stroke: lookOf(flight).colour, dash: lookOf(flight).dash, width: 2, value: shown, points: { show: false },
      }))],
      cursor: { drag: { x: true, y: false } }, hooks: { drawClear: [phases(flights)] },
    }, data, plot);
    figure.channel = name;
  }

  function zoom(figure, what) {
    const { chart } = figure, times = chart.data[0], { min, max } = chart.scales.x;
    const ends = [times[0], times[times.length - 1]];
    let [low, high] = [min, max];
    const middle = (min + max) / 2, half = (max - min) / 2;
    if (what === "in" || what === "out") {
      const to = what === "in" ? half / ZOOM : half * ZOOM;
      [low, high] = [middle - to, middle + to];
    } else if (what === "left" || what === "right") {
      const by = (what === "left" ? -SHIFT : SHIFT) * (max - min);
      [low, high] = [min + by, max + by];
    } else {
      [low, high] = ends;
    }
    if (high - low >= ends[1] - ends[0]) [low, high] = ends;
    if (low < ends[0]) [low, high] = [ends[0], ends[0] + high - low];
    if (high > ends[1]) [low, high] = [ends[1] - (high - low), ends[1]];
    chart.setScale("x", { min: low, max: high });
  }

  const wanted = (figure) => { if (!figure.chart) draw(figure, figure.dataset.channel); };
  const seen = new IntersectionObserver((entries) => {
    for (const entry of entries) if (entry.isIntersecting) wanted(entry.target);
  }, { rootMargin: "400px" });
  const sized = new ResizeObserver((entries) => {
    for (const { target } of entries) {
      const { chart } = target.parentElement;
      if (chart && target.clientWidth > 0 && chart.width !== target.clientWidth) chart.setSize({ width: target.clientWidth, height: TALL });
    }
  });
  for (const figure of figures) {
    const select = figure.querySelector("select.channel");
    for (const channel of page.channels) option(select, channel.name, `${channel.label}, ${channel.unit}`);
    select.value = figure.dataset.channel;
    select.addEventListener("change", () => draw(figure, select.value));
    for (const button of figure.querySelectorAll("[data-do]")) {
      button.addEventListener("click", () => { wanted(figure); zoom(figure, button.dataset.do); });
    }
    seen.observe(figure);
    sized.observe(figure.querySelector(".plot"));
  }

  const closed = [];
  addEventListener("beforeprint", () => {
    for (const figure of figures) {
      wanted(figure);
      const plot = figure.querySelector(".plot");
      figure.chart.batch(() => {});  // draws now, not when scripts rest
      still(plot.querySelector("canvas"), plot.getAttribute("aria-label"), plot);
      plot.classList.add("stilled");
    }
    for (const part of document.querySelectorAll("details:not(.text):not([open])")) {
      part.open = true;
      closed.push(part);
    }
  });
  addEventListener("afterprint", () => { for (const part of closed.splice(0)) part.open = false; });
})();
