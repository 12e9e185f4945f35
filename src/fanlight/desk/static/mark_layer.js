// Marks on the frame that stands: set by pointer or by arrow keys, moved by their points; followed ones on theirs.
import { newId } from "./api.js";
import { html, useEffect, useLayoutEffect, useRef, useSignal } from "./html.js";
import { dragPoint, nudgePoint, pressedPoint, settle, stepOf, tidy } from "./mark_points.js";
import { MarkShape, SentShape, TrackedShape } from "./mark_shape.js";
import { markTool, mentor, say, state } from "./model.js";
import { SCALE_TOOLS, sayScale, scalePoints } from "./scale_form.js";
import { areasFor } from "./scales.js";
import { sentOn } from "./sent_marks.js";
import { StripLineLayer } from "./strip_line_layer.js";
import { trackedAt, trackedWords, tracks } from "./tracks.js";
import { toPicture, toScreen } from "./view.js";

/** @type {Record<string, number>} how many points a tool takes; a trace ends by hand */
const TAKES = { point: 1, line: 2, angle: 3, trace: Infinity, scale: 2, time: 2, velocity: 2, baseline: 1 };
const TRACE_STEP_PX = 4;
const MOST_NAMED = 3; // landmarks on one frame whose names stand beside them; of more, they would cover each other
const TWICE_MS = 500; // a second press within it is a double click (engineering judgement)

/** @param {{player: import("./player.js").Player, clip: any, reading: any, laid: import("./view.js").Laid, size: {width: number, height: number}}} props */
export function MarkLayer({ player, clip, reading, laid, size }) {
  const draft = useSignal(/** @type {number[][]} */ ([]));
  const cross = useSignal([clip.rows / 2, clip.cols / 2]);
  const moved = useSignal(/** @type {import("./mark_points.js").Moved} */ (null));
  const tracing = useRef(0); // points that stood when the pointer went down on a trace, and one; 0: it is up
  const pressed = useRef({ at: -Infinity, x: 0, y: 0 }); // when and where a trace was pressed last
  const isUnsaid = useRef(false); // the draft is whole, and waits for the name of who drew it
  const layer = useRef(/** @type {SVGSVGElement | null} */ (null));
  const tool = markTool.value;
  const frame = player.frame.value;
  const areas = areasFor(clip, reading);
  const mine = state.value.marks.filter((/** @type {any} */ each) => each.clip === clip.key);
  const taken = moved.value?.of.from ? moved.value.of : null; // taken from the engine's lines, and not said yet
  const here = [
    ...mine,
    ...(taken && !mine.some((/** @type {any} */ each) => each.mark === taken.mark) ? [taken] : []),
  ].filter((/** @type {any} */ each) => each.frame === frame);
  const isCrowded = here.filter((/** @type {any} */ each) => each.landmark).length > MOST_NAMED;
  // With the drawing itself: the key after next to a press must find it done, or it is lost.
  useLayoutEffect(() => {
    if (tool) player.isPlaying.value = false; // a mark belongs to the frame that stands
    draft.value = [];
    isUnsaid.current = false;
  }, [tool, clip.key, frame]);
  useEffect(() => () => void settle(moved), [clip.key]); // what was moved is said before its clip goes
  useLayoutEffect(() => {
    if (tool) layer.current?.focus({ preventScroll: true }); // the arrow keys move the cross at once
  }, [tool]);

  const finish = (/** @type {number[][]} */ points) => {
    const mark = { mark: newId(), clip: clip.key, frame, kind: tool, points: tidy(points), landmark: "", label: "" };
    const isDone =
      tool in SCALE_TOOLS
        ? scalePoints(clip.key, reading?.layout, tool, tidy(points), frame)
        : say("draw mark", mark, clip.key);
    draft.value = isDone ? [] : points;
    isUnsaid.current = !isDone;
  };
  useEffect(() => {
    if (!mentor.value.trim()) return; // now it can be said
    if (isUnsaid.current) finish(draft.value);
    settle(moved);
    sayScale();
  }, [mentor.value]);
  const add = (/** @type {number[]} */ point) => {
    player.isPlaying.value = false;
    if (isUnsaid.current) return finish(draft.value); // asks for the name once more
    const next = [...draft.value, point];
    if (next.length >= TAKES[tool]) finish(next);
    else draft.value = next;
  };
  const pointOf = (/** @type {PointerEvent} */ event, /** @type {Element} */ on) => {
    const box = on.getBoundingClientRect();
    return onPicture(toPicture(laid, event.clientX - box.left, event.clientY - box.top));
  };
  const onPicture = (/** @type {number[]} */ [row, col]) => [
    Math.min(Math.max(row, 0), clip.rows - 1),
    Math.min(Math.max(col, 0), clip.cols - 1),
  ];
  // The browser's own double click is lost: the second press meets the point that the first one drew.
  const isTwice = (/** @type {PointerEvent} */ event) => {
    const { at, x, y } = pressed.current;
    pressed.current = { at: event.timeStamp, x: event.clientX, y: event.clientY };
    return event.timeStamp - at < TWICE_MS && Math.hypot(event.clientX - x, event.clientY - y) < TRACE_STEP_PX;
  };
  const down = (/** @type {PointerEvent} */ event) => {
    if (event.button !== 0 || !tool) return;
    const on = /** @type {Element} */ (event.currentTarget);
    if (tool === "trace" && !isUnsaid.current) {
      if (isTwice(event) && draft.value.length > 1) return finish(draft.value);
      tracing.current = draft.value.length + 1;
      on.setPointerCapture(event.pointerId);
      player.isPlaying.value = false;
      draft.value = [...draft.value, pointOf(event, on)];
    } else add(pointOf(event, on));
  };
  const move = (/** @type {PointerEvent} */ event) => {
    if (!tracing.current) return;
    const next = pointOf(event, /** @type {Element} */ (event.currentTarget));
    const last = draft.value[draft.value.length - 1];
    if (Math.hypot(next[0] - last[0], next[1] - last[1]) * laid.scale >= TRACE_STEP_PX)
      draft.value = [...draft.value, next];
  };
  const up = () => {
    if (!tracing.current) return;
    const isDrawn = draft.value.length > tracing.current + 1;
    tracing.current = 0;
    if (isDrawn) finish(draft.value); // a click sets one point, a drawn line ends the trace
  };
  const press = (/** @type {KeyboardEvent} */ event) => {
    if (!tool || event.target !== event.currentTarget) return;
    const by = stepOf(event);
    if (by) cross.value = onPicture([cross.value[0] + by[0], cross.value[1] + by[1]]);
    else if (event.key === " ") add([...cross.value]);
    else if (event.key === "Enter" && tool === "trace" && draft.value.length > 1) finish(draft.value);
    else if (event.key === "Escape" && draft.value.length > 0) {
      draft.value = [];
      isUnsaid.current = false;
    } else return;
    event.preventDefault();
  };
  const [cx, cy] = toScreen(laid, cross.value);
  const words = tool
    ? `Marks: ${SCALE_TOOLS[tool]?.words ?? tool}. Arrow keys move the cross, Space sets a point${tool === "trace" ? ", Enter or a double click ends the trace" : ""}.`
    : "Marks";
  // A point that stands is dragged. A mark that was begun goes on there, and with Shift another begins.
  const grab = (/** @type {any} */ mark, /** @type {PointerEvent} */ event) => {
    const n = pressedPoint(event, mark.kind, mark.points, laid);
    if (!tool || (draft.value.length === 0 && !event.shiftKey)) dragPoint(event, mark, n, laid, onPicture, moved);
  };
  const shown = (/** @type {any} */ mark) =>
    moved.value?.of.mark === mark.mark ? { ...mark, points: moved.value?.points } : mark;
  return html`<svg
    class="mark-layer"
    ref=${layer}
    width=${size.width}
    height=${size.height}
    tabindex="0"
    role="application"
    aria-label=${words}
    onPointerDown=${down}
    onPointerMove=${move}
    onPointerUp=${up}
    onPointerCancel=${up}
    onKeyDown=${press}
  >
    <${StripLineLayer} clip=${clip} frame=${frame} laid=${laid} width=${size.width} moved=${moved} onPicture=${onPicture} />
    ${mine.map((/** @type {any} */ each) => {
      const held = tracks.value[each.mark];
      const points = each.frame === frame ? null : trackedAt(held, frame);
      if (!points || !held?.track) return null;
      return html`<${TrackedShape} key=${`t ${each.mark}`} laid=${laid} width=${size.width} kind=${each.kind} points=${points}
        words=${[each.label, trackedWords(held.track, frame)].filter(Boolean).join("  ")} />`;
    })}
    ${sentOn(clip.key, reading)
      .filter((each) => each.frame === frame)
      .map(
        (
          each,
          n,
        ) => html`<${SentShape} key=${`s ${n}`} laid=${laid} width=${size.width} kind=${each.kind} points=${each.points}
        words=${[each.label, each.words.split(" · ").slice(0, 2).join(" · ")].filter(Boolean).join("  ")} />`,
      )}
    ${here.map(
      (
        /** @type {any} */ each,
      ) => html`<${MarkShape} key=${each.mark} laid=${laid} width=${size.width} mark=${shown(each)} areas=${areas} isQuiet=${isCrowded && each.landmark !== ""}
        onGrab=${(/** @type {PointerEvent} */ event) => grab(shown(each), event)}
        onPress=${(/** @type {number} */ n, /** @type {KeyboardEvent} */ event) => nudgePoint(event, shown(each), n, onPicture, moved)} />`,
    )}
    ${
      draft.value.length
        ? html`<${MarkShape} laid=${laid} width=${size.width} mark=${{ kind: tool in SCALE_TOOLS ? "scale" : tool, points: draft.value }} areas=${tool in SCALE_TOOLS ? [] : areas} isChosen />`
        : null
    }
    <path class="cross" d=${`M${cx - 9} ${cy}h7m4 0h7M${cx} ${cy - 9}v7m0 4v7`} />
  </svg>`;
}
