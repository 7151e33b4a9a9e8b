import type { ClockState } from '../../collector/clocks/clock-book.ts';
import { CANONICAL_UNIT, CHANNELS } from '../../collector/model/channel.ts';
import { formatRfc3339 } from '../../collector/model/instant.ts';
import { interpretations } from '../../collector/model/interpretation.ts';
import { utcOffsetMinutes } from '../../collector/model/local-time.ts';
import type { Calibration, ChannelSetting, Logger, Placement } from '../../collector/model/logger.ts';
import type { LatestSample } from '../../collector/model/series.ts';
import { applyMap, type EpochMs } from '../../collector/model/units.ts';
import type { LoggerPresence } from '../../collector/ports.ts';
import type { Store } from '../../collector/store/port.ts';
import type { LoggerResource } from '../contract/payloads.ts';
import { calibrationInForce, sensorStandardUncertaintyBar, settingInForce } from '../work/calibration-in-force.ts';
import { clockWords, isWrong } from '../work/clock-words.ts';
import { lastHeardMs, loggerState } from '../work/logger-state.ts';

/** Loggers looked up in one turn; in between, arriving samples have theirs. */
const LOGGERS_A_TURN = 20;

export interface LoggerResourceNeeds {
  readonly store: Store;
  presence(loggerId: string): LoggerPresence;
  /** Why samples can't be stored just now. */
  storeFailure(): string | undefined;
  nowMs(): EpochMs;
  /** Why an outside broker sends nothing under a device's own filter. */
  filterRefusal(filter: string): string | undefined;
  clockState(loggerId: string): Promise<ClockState>;
}

/** Loggers as the API shows them, in the order given. */
export async function loggerResources(
  needs: LoggerResourceNeeds,
  loggers: readonly Logger[],
): Promise<LoggerResource[]> {
  const latest = loggers.length === 0 ? [] : await needs.store.latest(loggers.map((logger) => logger.id));
  const byLogger = new Map<string, LatestSample[]>();
  for (const sample of latest) byLogger.set(sample.loggerId, [...(byLogger.get(sample.loggerId) ?? []), sample]);
  const made: LoggerResource[] = [];
  for (const logger of loggers) {
    made.push(await loggerResource(needs, logger, byLogger.get(logger.id) ?? []));
    // The store answers at once, so a fleet would otherwise be one long turn.
    if (made.length % LOGGERS_A_TURN === 0) await new Promise(setImmediate);
  }
  return made;
}

async function loggerResource(
  needs: LoggerResourceNeeds,
  logger: Logger,
  latest: readonly LatestSample[],
): Promise<LoggerResource> {
  const { store } = needs;
  const nowMs = needs.nowMs();
  const placements = [...(await store.placements(logger.id))].sort((a, b) => a.fromMs - b.fromMs);
  const settings = await store.channelSettings(logger.id);
  const calibrations = await store.calibrations(logger.id);
  const now = placements.filter((placement) => placement.fromMs <= nowMs).at(-1) ?? placements[0];
  const inForce = CHANNELS.flatMap((channel) => settingInForce(settings, channel, nowMs) ?? []);
  const shown = latest.map((sample) => sampleResource(sample, settings, calibrations));
  const pressure = latest.find((sample) => sample.channel === 'pressure');
  const newest = pressure ?? latest[0];
  const pressureShown = shown.find((sample) => sample.channel === 'pressure');
  const calibration = calibrationInForce(calibrations, 'pressure', nowMs);
  const pressureSetting = settingInForce(settings, 'pressure', nowMs);
  const heard = latest.map(lastHeardMs);
  const clock = await needs.clockState(logger.id);
  const site = isWrong(clock.estimate) && now?.siteId !== undefined ? await store.site(now.siteId) : undefined;
  const presence = needs.presence(logger.id);
  const extents = await Promise.all(
    latest.map(async ({ channel }) => {
      const erased = await store.erasedSpans(logger.id, channel, 0, Number.POSITIVE_INFINITY);
      return { channel, extent: await store.extent(logger.id, channel), samplesFromMs: erased.at(-1)?.toMs };
    }),
  );
  const weight = (await store.weights()).get(logger.id);
  return {
    id: logger.id,
    created: formatRfc3339(logger.createdMs),
    hidden: logger.hiddenMs === undefined ? null : formatRfc3339(logger.hiddenMs),
    site: now?.siteId ?? null,
    position: now?.position ?? 'incoming',
    heightAboveSupplyPointM: now?.heightAboveSupplyPointM ?? 0,
    channels: inForce.map(settingResource),
    placements: placements.map(placementResource),
    mapping: mappingResource(logger, needs),
    ...loggerState({
      presence,
      lastHeardMs: heard.length === 0 ? undefined : Math.max(...heard),
      intervalS: pressureSetting?.intervalS,
      unreadableUnit: pressureShown?.value === null ? pressureShown.unitAsSent : undefined,
      storeFailure: needs.storeFailure(),
      clock: clockWords(clock, nowMs, site && 60_000 * utcOffsetMinutes(nowMs, site.timeZone)),
      nowMs,
    }),
    presence: {
      state: presence.state,
      since: presence.state === 'unknown' ? null : formatRfc3339(presence.sinceMs),
    },
    clock: clockResource(clock),
    lastSample: (newest && shown[latest.indexOf(newest)]) ?? null,
    latest: shown,
    extents: extents.flatMap(({ channel, extent, samplesFromMs }) =>
      extent
        ? [
            {
              channel,
              first: formatRfc3339(extent.firstMs),
              last: formatRfc3339(extent.lastMs),
              count: extent.count,
              samplesFrom: samplesFromMs === undefined ? null : formatRfc3339(samplesFromMs),
            },
          ]
        : [],
    ),
    bytes: weight?.bytes ?? 0,
    bytesPerDay: weight?.bytesPerDay ?? null,
    calibrated: calibration !== undefined,
    sensorUBar: pressureSetting || pressure ? 2 * sensorStandardUncertaintyBar(pressureSetting, calibration) : null,
    refused: await store.refusalCount(logger.id),
  };
}

function settingResource(setting: ChannelSetting): LoggerResource['channels'][number] {
  const { channel, unit, fromMs, rangeBar, accuracyBar, endPoints, intervalS } = setting;
  return {
    channel,
    unit,
    from: formatRfc3339(fromMs),
    rangeBar: rangeBar && [...rangeBar],
    accuracyBar,
    endPoints: endPoints && [{ ...endPoints[0] }, { ...endPoints[1] }],
    intervalS,
  };
}

function clockResource({ kind, estimate, jumps }: ClockState): LoggerResource['clock'] {
  const wrong = !isWrong(estimate) ? 'right' : estimate.offsetMs > 0 ? 'ahead' : 'behind';
  return {
    state: kind === 'known' ? wrong : kind,
    offsetS: estimate ? tenths(estimate.offsetMs / 1000) : null,
    uncertaintyS: estimate ? tenths(estimate.uncertaintyMs / 1000) : null,
    driftPpm: estimate?.driftPpm === undefined ? null : tenths(estimate.driftPpm),
    jumps: jumps.map(({ atMs, byMs }) => ({ at: formatRfc3339(atMs), byS: tenths(byMs / 1000) })),
  };
}

function tenths(value: number): number {
  return Math.round(value * 10) / 10 + 0;
}

function mappingResource({ mapping }: Logger, needs: LoggerResourceNeeds): LoggerResource['mapping'] {
  if (mapping === undefined) return null;
  return {
    filter: mapping.filter,
    channels: mapping.channels.map((mapped) => ({ ...mapped })),
    refusedByBroker: needs.filterRefusal(mapping.filter),
  };
}

function placementResource(placement: Placement): LoggerResource['placements'][number] {
  return {
    from: formatRfc3339(placement.fromMs),
    site: placement.siteId ?? null,
    position: placement.position,
    heightAboveSupplyPointM: placement.heightAboveSupplyPointM,
  };
}

function sampleResource(
  sample: LatestSample,
  settings: readonly ChannelSetting[],
  calibrations: readonly Calibration[],
): LoggerResource['latest'][number] {
  const { channel, unit, atMs, value } = sample;
  const map = interpretations(channel, unit, settings, calibrations)
    .filter((stretch) => stretch.fromMs <= atMs)
    .at(-1)?.map;
  return {
    channel,
    time: formatRfc3339(atMs),
    value: map ? applyMap(map, value) : null,
    unit: CANONICAL_UNIT[channel],
    valueAsSent: value,
    unitAsSent: unit,
    arrived: formatRfc3339(sample.arrivedMs),
  };
}
