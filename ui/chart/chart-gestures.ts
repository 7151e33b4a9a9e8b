import { panSpan, type Span, spanForKey, zoomSpan } from '../view-state.ts';

export interface GestureTarget {
  span(): Span | undefined;
  picture(): DOMRect | undefined;
  move(span: Span): void;
}

/** One notch of a wheel changes the span by about a fifth. */
const WHEEL_SENSITIVITY = 0.0018;

/**
 * Wheel, touch and keyboard on a chart: the wheel and two fingers zoom about the place they are at, one finger and the
 * arrow keys move along, + and − zoom about the middle. One finger moving up or down still scrolls the page (the style
 * sheet sets `touch-action: pan-y`). Dragging with a mouse is the chart's own. Returns what ends it.
 */
export function followGestures(element: HTMLElement, target: GestureTarget): () => void {
  const touches = new Map<number, number>();
  let startSpan: Span | undefined;
  let startTouches: number[] = [];

  function timeAt(clientX: number, span: Span, picture: DOMRect): number {
    return span.fromMs + ((clientX - picture.left) / picture.width) * (span.toMs - span.fromMs);
  }

  function wheel(event: WheelEvent): void {
    const span = target.span();
    const picture = target.picture();
    if (!span || !picture) return;
    event.preventDefault();
    const pixels = event.deltaMode === 1 ? 16 : 1;
    if (Math.abs(event.deltaX) > Math.abs(event.deltaY) || event.shiftKey) {
      const along = (event.deltaX || event.deltaY) * pixels;
      target.move(panSpan(span, along / picture.width));
    } else {
      const factor = Math.exp(Math.max(-240, Math.min(240, event.deltaY * pixels)) * WHEEL_SENSITIVITY);
      target.move(zoomSpan(span, factor, timeAt(event.clientX, span, picture)));
    }
  }

  function begin(): void {
    startSpan = target.span();
    startTouches = [...touches.values()];
  }

  function pointerDown(event: PointerEvent): void {
    if (event.pointerType === 'mouse') return;
    touches.set(event.pointerId, event.clientX);
    begin();
  }

  function pointerMove(event: PointerEvent): void {
    if (!touches.has(event.pointerId)) return;
    touches.set(event.pointerId, event.clientX);
    const picture = target.picture();
    if (!startSpan || !picture) return;
    const now = [...touches.values()];
    if (now.length === 1) {
      const shift = startTouches[0]! - now[0]!;
      if (Math.abs(shift) > 3) target.move(panSpan(startSpan, shift / picture.width));
    } else if (now.length === 2 && startTouches.length === 2) {
      const before = Math.max(20, Math.abs(startTouches[1]! - startTouches[0]!));
      const after = Math.max(20, Math.abs(now[1]! - now[0]!));
      const middleBefore = timeAt((startTouches[0]! + startTouches[1]!) / 2, startSpan, picture);
      const zoomed = zoomSpan(startSpan, before / after, middleBefore);
      const travelled = (startTouches[0]! + startTouches[1]! - now[0]! - now[1]!) / 2;
      target.move(panSpan(zoomed, travelled / picture.width));
    }
  }

  function pointerEnd(event: PointerEvent): void {
    if (touches.delete(event.pointerId)) begin();
  }

  function key(event: KeyboardEvent): void {
    const span = target.span();
    if (!span || event.ctrlKey || event.metaKey || event.altKey) return;
    const next = spanForKey(event.key, span);
    if (!next) return;
    event.preventDefault();
    target.move(next);
  }

  element.addEventListener('wheel', wheel, { passive: false });
  element.addEventListener('pointerdown', pointerDown);
  element.addEventListener('pointermove', pointerMove);
  element.addEventListener('pointerup', pointerEnd);
  element.addEventListener('pointercancel', pointerEnd);
  element.addEventListener('keydown', key);
  return () => {
    element.removeEventListener('wheel', wheel);
    element.removeEventListener('pointerdown', pointerDown);
    element.removeEventListener('pointermove', pointerMove);
    element.removeEventListener('pointerup', pointerEnd);
    element.removeEventListener('pointercancel', pointerEnd);
    element.removeEventListener('keydown', key);
  };
}
