"use strict";
// What the page's scripts share: the flights unpacked, and how each setup's line looks.
const page = JSON.parse(document.getElementById("flights").textContent);

const unpack = (() => {
  const known = new Map();
  return (packed) => {
    if (known.has(packed)) return known.get(packed);
    const text = atob(packed.data);
    const out = new Float64Array(text.length / 2);
    const scale = (packed.high - packed.low) / page.steps;
    for (let i = 0; i < out.length; i++) {
      const n = text.charCodeAt(2 * i) + 256 * text.charCodeAt(2 * i + 1);
      out[i] = n === page.missing ? NaN : packed.low + scale * n;
    }
    known.set(packed, out);
    return out;
  };
})();

const lookOf = (flight) => page.looks[flight.setup % page.looks.length];
const nameOf = (flight) => page.setups[flight.setup].name;
const channelNamed = (name) => page.channels.find((channel) => channel.name === name);
const timeAt = (flight, i) => flight.begin + i * flight.step;  // s since the start of the flight

function option(select, value, text) {
  const made = document.createElement("option");
  made.value = value;
  made.textContent = text;
  select.append(made);
}

// A picture of a canvas stands for it on paper.
function still(canvas, alt, beside) {
  let image = beside.nextElementSibling;
  if (!image || !image.classList.contains("still")) {
    image = document.createElement("img");
    image.className = "still";
    beside.after(image);
  }
  image.src = canvas.toDataURL("image/png");
  image.alt = alt;
}
