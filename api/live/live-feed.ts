import { CANONICAL_UNIT } from '../../collector/model/channel.ts';
import type { Clock } from '../../collector/model/clock.ts';
import { interpretations } from '../../collector/model/interpretation.ts';
import type { Calibration, ChannelSetting } from '../../collector/model/logger.ts';
import { applyMap, toNineSignificantDigits } from '../../collector/model/units.ts';
import type { Log, StoredNotice } from '../../collector/ports.ts';
import type { Settings } from '../../collector/store/port.ts';
import { type ChangedFrame, LIVE_VERSION, type LiveFrame, type SamplesFrame } from '../contract/live-frames.ts';

/** Frames with samples are sent at most this often: four a second look continuous and cost a phone little. */
const SAMPLES_EVERY_MS = 250;
/** Samples in one frame; a larger message (an import) is told as a change of the record instead. */
const SAMPLES_LIMIT = 5_000;

/** Turns what the collector tells into frames for every open page. */
export interface LiveFeed {
  /** Samples were committed. */
  stored(notice: StoredNotice): void;
  /** A logger's settings changed: they are read anew. */
  forget(loggerId: string): void;
  stop(): void;
}

interface LoggerSettings {
  readonly settings: readonly ChannelSetting[];
  readonly calibrations: readonly Calibration[];
}

export function createLiveFeed(needs: {
  settings: Pick<Settings, 'channelSettings' | 'calibrations'>;
  clock: Clock;
  log: Log;
  /** Nothing is gathered while nobody looks. */
  readers: () => number;
  send: (frame: LiveFrame) => void;
}): LiveFeed {
  const { settings, clock, log, readers, send } = needs;
  const known = new Map<string, Promise<LoggerSettings>>();
  let waiting: StoredNotice[] = [];
  let samples = 0;
  const left = new Set<string>();

  function settingsOf(loggerId: string): Promise<LoggerSettings> {
    const found = known.get(loggerId);
    if (found) return found;
    const loaded = Promise.all([settings.channelSettings(loggerId), settings.calibrations(loggerId)]).then(
      ([channelSettings, calibrations]) => ({ settings: channelSettings, calibrations }),
    );
    known.set(loggerId, loaded);
    loaded.catch(() => known.delete(loggerId));
    return loaded;
  }

  async function flush(): Promise<void> {
    if (waiting.length === 0 && left.size === 0) return;
    const notices = waiting;
    const tooMany = [...left];
    waiting = [];
    samples = 0;
    left.clear();
    for (const id of tooMany) {
      const frame: ChangedFrame = { type: 'changed', version: LIVE_VERSION, what: 'samples', id };
      send(frame);
    }
    if (notices.length === 0) return;
    const series = await Promise.all(
      notices.map(async (notice) => toSeries(notice, await settingsOf(notice.loggerId))),
    );
    send({ type: 'samples', version: LIVE_VERSION, series: joined(series) });
  }

  const stop = clock.every(SAMPLES_EVERY_MS, () => {
    flush().catch((error: unknown) => log.warn({ err: error }, 'new samples could not be told to open pages'));
  });

  return {
    stored(notice) {
      if (readers() === 0) return;
      if (samples + notice.timeMs.length > SAMPLES_LIMIT) {
        left.add(notice.loggerId);
        return;
      }
      samples += notice.timeMs.length;
      waiting.push(notice);
    },
    forget: (loggerId) => void known.delete(loggerId),
    stop,
  };
}

type Series = SamplesFrame['series'][number];

function toSeries(notice: StoredNotice, { settings, calibrations }: LoggerSettings): Series {
  const { channel, unit } = notice;
  const stretches = interpretations(channel, unit, settings, calibrations);
  const mapAt = (timeMs: number) => stretches.filter((stretch) => stretch.fromMs <= timeMs).at(-1)?.map;
  const readable = notice.timeMs.every((timeMs) => mapAt(timeMs) !== undefined);
  return {
    logger: notice.loggerId,
    channel,
    unit: readable ? CANONICAL_UNIT[channel] : unit,
    timeMs: [...notice.timeMs],
    value: Array.from(notice.value, (value, index) => {
      const map = readable ? mapAt(notice.timeMs[index]!) : undefined;
      return map ? toNineSignificantDigits(applyMap(map, value)) : value;
    }),
  };
}

/** One entry for each logger, channel and unit. */
function joined(all: readonly Series[]): Series[] {
  const byKey = new Map<string, Series>();
  for (const series of all) {
    const key = `${series.logger} ${series.channel} ${series.unit}`;
    const before = byKey.get(key);
    byKey.set(
      key,
      before
        ? { ...before, timeMs: [...before.timeMs, ...series.timeMs], value: [...before.value, ...series.value] }
        : series,
    );
  }
  return [...byKey.values()];
}
