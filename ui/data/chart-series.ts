import type { LiveFrame } from '../../api/contract/live-frames.ts';
import type { LoggerResource, SeriesResponse } from '../../api/contract/payloads.ts';
import type { Channel } from '../../collector/model/channel.ts';
import { LIVE_POINTS, withLiveSamples } from '../chart/live-window.ts';
import { type Span, timeText } from '../view-state.ts';
import { seriesColumns } from './api-client.ts';

/** The channels that a chart draws, each over the same span. */
export const CHART_CHANNELS = ['pressure', 'flow', 'pump'] as const satisfies readonly Channel[];
export type ChartSeries = Partial<Record<(typeof CHART_CHANNELS)[number], SeriesResponse>> & {
  readonly pressure: SeriesResponse;
};

/** Two points a pixel keep every extreme visible; more would be drawn over one another. */
const POINTS_A_PIXEL = 2;
const FEWEST_POINTS = 400;
const MOST_POINTS = 8_000;

/**
 * Fetches what a chart of a span needs, a quarter of it more on both sides, so that a small step aside shows no empty
 * edge. A newer request ends an older one: undefined is its answer then.
 */
export function createSeriesLoader(): {
  load(logger: LoggerResource, span: Span, widthPx: number): Promise<ChartSeries | undefined>;
  stop(): void;
} {
  let request = new AbortController();
  return {
    async load(logger, span, widthPx) {
      request.abort();
      const mine = new AbortController();
      request = mine;
      const margin = Math.round((span.toMs - span.fromMs) / 4);
      const points = Math.min(MOST_POINTS, Math.max(FEWEST_POINTS, Math.round(widthPx * POINTS_A_PIXEL)));
      const query = {
        from: timeText(span.fromMs - margin),
        to: timeText(span.toMs + margin),
        points: Math.round(points * 1.5),
      };
      const has = new Set<Channel>(logger.extents.map((extent) => extent.channel));
      const channels = CHART_CHANNELS.filter((channel) => channel === 'pressure' || has.has(channel));
      try {
        const answers = await Promise.all(
          channels.map((channel) => seriesColumns(logger.id, { ...query, channel }, mine.signal)),
        );
        return Object.fromEntries(channels.map((channel, index) => [channel, answers[index]])) as ChartSeries;
      } catch (error) {
        if (mine.signal.aborted) return undefined;
        throw error;
      }
    },
    stop: () => request.abort(),
  };
}

/** The series with the samples of a frame added, or undefined where it brings none of theirs. */
export function withFrame(series: ChartSeries, loggerId: string, frame: LiveFrame): ChartSeries | undefined {
  if (frame.type !== 'samples') return undefined;
  let next: ChartSeries | undefined;
  for (const piece of frame.series) {
    const channel = CHART_CHANNELS.find((candidate) => candidate === piece.channel);
    const held = channel && (next ?? series)[channel];
    if (piece.logger !== loggerId || !held || held.unit !== piece.unit) continue;
    const kept = Math.max(held.time.length, LIVE_POINTS);
    next = { ...(next ?? series), [held.channel]: withLiveSamples(held, piece.timeMs, piece.value, kept) };
  }
  return next;
}
