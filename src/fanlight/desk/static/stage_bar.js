// Above and below the picture: what it is, and the acts that a pointer can do.
import { html } from "./html.js";
import { nextTool } from "./marks_panel.js";
import { markTool, told } from "./model.js";
import { scaleWords } from "./scales.js";
import { AS_STORED } from "./view.js";
import { MODE_WORDS } from "./words.js";

/** @param {{player: import("./player.js").Player, clip: any, reading: any, view: import("./stage.js").ViewSignal}} props */
export function StageHead({ player, clip, reading, view }) {
  void player.known.value;
  const mode = reading?.mode?.mode ? MODE_WORDS[reading.mode.mode] : reading ? "mode not sure" : "not read yet";
  const rate =
    player.n > 1 && player.isTrue ? `${Math.round((1000 * (player.n - 1)) / player.times[player.n - 1])} frames/s` : "";
  const speed = player.isTrue ? rate : "true speed not known: 30 frames/s";
  const size = view.value.zoom ? `shown ×${view.value.zoom}` : "made to fit";
  const facts = [mode, speed, `${clip.cols} × ${clip.rows}`, size, player.form.value, scaleWords(clip, reading)].filter(
    Boolean,
  );
  return html`<header class="stage-head">
    <h2>clip ${clip.number}</h2>
    <span class="name">${clip.name}</span>
    <span class="facts">${facts.join(" · ")}</span>
  </header>`;
}

/** @param {{player: import("./player.js").Player, view: import("./stage.js").ViewSignal, onZoom: (sense: 1 | -1) => void, onBeside: () => void}} props */
export function StageBar({ player, view, onZoom, onBeside }) {
  void player.known.value;
  const { n, times } = player;
  const now = player.frame.value;
  const isMoving = n > 1;
  return html`<div class="stage-bar" role="toolbar" aria-label="Playing and size">
    <button disabled=${!isMoving} onClick=${() => player.toggle()} title="Space" class="wide">${player.isPlaying.value ? "stop" : "play"}</button>
    <button disabled=${!isMoving} onClick=${() => player.step(-1)} title="←" aria-label="one frame back">‹</button>
    <output class="count">frame ${now + 1} of ${n}${isMoving ? ` · ${(times[now] / 1000).toFixed(2)} s` : ""}</output>
    <button disabled=${!isMoving} onClick=${() => player.step(1)} title="→" aria-label="one frame on">›</button>
    <button
      disabled=${player.starts.length < 2}
      aria-pressed=${player.isLooping.value ? "true" : "false"}
      title="Shift Space"
      onClick=${() => {
        told.value = player.loop() ? "One beat, again and again." : "The whole clip.";
      }}
    >one beat</button>
    <span class="gap"></span>
    <button onClick=${() => onZoom(-1)} title="'" aria-label="smaller">−</button>
    <button onClick=${() => onZoom(1)} title="=" aria-label="larger">+</button>
    <button
      disabled=${view.value === AS_STORED}
      title="\\"
      onClick=${() => {
        view.value = AS_STORED;
      }}
    >as stored</button>
    <button onClick=${onBeside} title="F4">beside</button>
    <button
      aria-pressed=${markTool.value ? "true" : "false"}
      title="F2"
      onClick=${() => {
        markTool.value = nextTool(markTool.value);
      }}
    >marks${markTool.value ? `: ${markTool.value}` : ""}</button>
  </div>`;
}
