// Draws the page's charts: loads the chart program once, redraws a chart only when its figure has changed.

const STYLE_LINK = "plotly.js-style-global";

const CONFIG = {
  modeBarButtons: [["toImage"]],
  displayModeBar: true,
  displaylogo: false,
  showSendToCloud: false,
  plotlyServerURL: "",
  responsive: true,
  scrollZoom: false,
  doubleClick: false,
  showTips: false,
};

const css = getComputedStyle(document.documentElement);
const token = (name) => css.getPropertyValue(name).trim();

const AXIS = {
  automargin: true,
  gridcolor: token("--rule"),
  linecolor: token("--ink"),
  zerolinecolor: token("--rule"),
  ticks: "outside",
  tickcolor: token("--ink"),
  fixedrange: true,
};

function withHouseStyle(layout = {}) {
  const size = parseFloat(css.fontSize) || 17;
  const dressed = {
    paper_bgcolor: "rgba(0,0,0,0)",
    plot_bgcolor: "rgba(0,0,0,0)",
    margin: { l: 60, r: 20, t: 36, b: 52 },
    hovermode: "closest",
    dragmode: false,
    modebar: { bgcolor: "rgba(0,0,0,0)", color: token("--ink-soft"), activecolor: token("--ink") },
    ...layout,
    autosize: true,
    font: { color: token("--ink"), family: css.fontFamily, size, ...layout.font },
  };
  for (const key of new Set(["xaxis", "yaxis", ...Object.keys(layout)])) {
    if (/^[xy]axis\d*$/.test(key)) dressed[key] = { ...AXIS, ...layout[key] };
  }
  delete dressed.width;
  delete dressed.height;
  return dressed;
}

let program = null;

function loadProgram() {
  program ??= new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = document.getElementById(STYLE_LINK).dataset.plotlySrc;
    script.onload = () => resolve(window.Plotly);
    script.onerror = () => {
      program = null;
      script.remove();
      reject(new Error("the chart program did not arrive"));
    };
    document.head.append(script);
  });
  return program;
}

// What each plot shows now; a plot is kept over a swap, so the same figure is never drawn twice.
const shown = new WeakMap();

async function draw(figure) {
  const plot = figure.querySelector(".plot");
  const text = figure.dataset.figure;
  if (!plot || !text || shown.get(plot) === text) return;
  shown.set(plot, text);
  try {
    const { data, layout } = JSON.parse(text);
    const plotly = await loadProgram();
    // A later figure may have come while the program was on its way.
    if (shown.get(plot) !== text) return;
    plot.querySelector(".plot-waiting")?.remove();
    const options = { ...CONFIG, toImageButtonOptions: { format: "png", scale: 2, filename: figure.id } };
    await plotly.react(plot, data, withHouseStyle(layout), options);
    plot.dataset.drawn = String(Number(plot.dataset.drawn || 0) + 1);
    // The sentence and the table say it; loose axis numbers read out would only confuse.
    for (const svg of plot.querySelectorAll(".main-svg")) svg.setAttribute("aria-hidden", "true");
  } catch (error) {
    shown.delete(plot);
    if (!plot.querySelector(".main-svg")) {
      const line = document.createElement("p");
      line.className = "plot-waiting";
      line.textContent = plot.dataset.sayFailed;
      plot.replaceChildren(line);
    }
    console.warn("chart", figure.id, error);
  }
}

function drawAll() {
  for (const figure of document.querySelectorAll("figure.chart[data-figure]")) draw(figure);
}

// On paper a chart shrinks to the sheet instead of being cut off.
window.addEventListener("beforeprint", () => {
  for (const svg of document.querySelectorAll(".plot .main-svg")) {
    svg.setAttribute("viewBox", `0 0 ${svg.getAttribute("width")} ${svg.getAttribute("height")}`);
  }
});
window.addEventListener("afterprint", () => {
  for (const svg of document.querySelectorAll(".plot .main-svg")) svg.removeAttribute("viewBox");
});

document.addEventListener("htmx:afterSettle", drawAll);
drawAll();
