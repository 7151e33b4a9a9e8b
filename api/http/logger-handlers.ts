import type { Clock } from '../../collector/model/clock.ts';
import { formatRfc3339, parseRfc3339 } from '../../collector/model/instant.ts';
import type { ChannelSetting, Logger, Placement } from '../../collector/model/logger.ts';
import { Problem } from '../../collector/model/problem.ts';
import type { EpochMs } from '../../collector/model/units.ts';
import type { Refusal, Store } from '../../collector/store/port.ts';
import { createLoggerKey, hashLoggerKey } from '../access/logger-key.ts';
import type { CheckedBodyOf, LoggerResource, RefusalResource } from '../contract/payloads.ts';
import {
  CALIBRATION_ENDED,
  calibrationInForce,
  sensorStandardUncertaintyBar,
  settingInForce,
} from '../work/calibration-in-force.ts';
import type { Handlers } from './handlers.ts';
import { knownLogger, wrongPlace } from './known-resources.ts';
import { createListMemory, type ListRevision } from './list-memory.ts';
import { type LoggerResourceNeeds, loggerResources } from './logger-resource.ts';
import { mappingIsFree } from './mapping-handlers.ts';
import { serially } from './serially.ts';

type LoggerHandlers = Pick<
  Handlers,
  | 'listLoggers'
  | 'createLogger'
  | 'getLogger'
  | 'updateLogger'
  | 'deleteLogger'
  | 'renewLoggerKey'
  | 'loggerRefusals'
  | 'unknownRefusals'
>;

/** The earliest plausible time of a sample: from here on everything a new logger ever sent belongs to its first site. */
const BEGINNING_MS = Date.UTC(2000, 0, 1);

export function loggerHandlers(
  needs: LoggerResourceNeeds & {
    store: Store;
    clock: Clock;
    /** Told which logger changed, so that the collector reads its settings anew and open pages follow. */
    changed: (what: 'logger', id: string) => void;
    /** Other texts whenever anything that a list of loggers shows has changed, but for what time alone changes. */
    revision: () => ListRevision;
    /** Told whose key holds no longer, so that no connection made with it goes on. */
    keyEnded: (id: string) => void;
  },
): LoggerHandlers {
  const { store, clock, changed, keyEnded } = needs;
  const inTurn = serially();
  const list = createListMemory(clock.nowMs);
  const shown = async (id: string): Promise<LoggerResource> =>
    (await loggerResources(needs, [await knownLogger(store, id)]))[0]!;

  async function mustBeSite(siteId: string | null | undefined): Promise<void> {
    if (siteId == null) return;
    const site = await store.site(siteId);
    if (!site || site.hiddenMs !== undefined)
      throw wrongPlace('body.site', `there is no site "${siteId}"; GET /api/sites lists those there are`);
  }

  return {
    async listLoggers({ query }) {
      const includeHidden = query.hidden === 'true';
      const { settings, record } = needs.revision();
      return list.get({ settings: `${includeHidden} ${settings}`, record }, async () =>
        loggerResources(needs, await store.loggers({ includeHidden })),
      );
    },
    createLogger: ({ body }) =>
      inTurn(async () => {
        const known = await store.logger(body.id);
        if (known)
          throw new Problem(
            'logger_exists',
            `A logger "${body.id}" exists${known.hiddenMs === undefined ? '' : ', hidden'}`,
            known.hiddenMs === undefined
              ? 'Choose another id, or change that one with PATCH'
              : 'Show it again with PATCH {"hidden": false}, or erase it with DELETE ?erase=true',
          );
        await mustBeSite(body.site);
        refuseRepeatedChannels(body.channels);
        await mappingIsFree(store, body.id, body.mapping);
        const key = createLoggerKey();
        const createdMs = clock.nowMs();
        await store.putLogger({ id: body.id, createdMs, keySha256: hashLoggerKey(key), ...mappingOf(body) });
        await store.addPlacement({
          loggerId: body.id,
          fromMs: timeOf(body.from) ?? BEGINNING_MS,
          siteId: body.site ?? undefined,
          position: body.position,
          heightAboveSupplyPointM: body.heightAboveSupplyPointM,
        });
        for (const setting of body.channels)
          await store.addChannelSetting({ loggerId: body.id, fromMs: createdMs, ...setting });
        changed('logger', body.id);
        return { ...(await shown(body.id)), key };
      }),
    getLogger: ({ params }) => shown(params.id),
    updateLogger: ({ params, body }) =>
      inTurn(async () => {
        const logger = await knownLogger(store, params.id);
        const { from, ...changes } = body;
        if (Object.values(changes).every((value) => value === undefined))
          throw new Problem(
            'nothing_to_change',
            'The body names nothing that a logger has',
            'Give site, position, heightAboveSupplyPointM, channels or mapping, or "hidden": false to show it again',
          );
        await mustBeSite(body.site);
        refuseRepeatedChannels(body.channels ?? []);
        await mappingIsFree(store, logger.id, body.mapping);
        const fromMs = timeOf(from) ?? clock.nowMs();
        await move(store, logger, body, fromMs);
        for (const setting of body.channels ?? [])
          await store.addChannelSetting({ loggerId: logger.id, fromMs, ...setting });
        if (body.hidden === false || body.mapping !== undefined) {
          const { hiddenMs, mapping, ...plain } = logger;
          await store.putLogger({
            ...plain,
            ...(hiddenMs === undefined || body.hidden === false ? {} : { hiddenMs }),
            ...(body.mapping === undefined ? mapping && { mapping } : mappingOf(body)),
          });
        }
        changed('logger', logger.id);
        return shown(logger.id);
      }),
    async deleteLogger({ params, query }) {
      const logger = await knownLogger(store, params.id);
      if (query.erase === 'true') await store.eraseLogger(logger.id);
      else if (logger.hiddenMs === undefined) await store.putLogger({ ...logger, hiddenMs: clock.nowMs() });
      changed('logger', logger.id);
      keyEnded(logger.id);
      return undefined;
    },
    renewLoggerKey: ({ params }) =>
      inTurn(async () => {
        const logger = await knownLogger(store, params.id);
        const key = createLoggerKey();
        await store.putLogger({ ...logger, keySha256: hashLoggerKey(key) });
        changed('logger', logger.id);
        keyEnded(logger.id);
        return { id: logger.id, key };
      }),
    async loggerRefusals({ params }) {
      const { id } = await knownLogger(store, params.id);
      return (await store.refusals(id)).map(refusalResource);
    },
    unknownRefusals: async () => (await store.refusals(undefined)).map(refusalResource),
  };
}

/** Opens a new placement where site, position or height change; what is given and equal opens none. */
async function move(
  store: Store,
  logger: Logger,
  changes: CheckedBodyOf<'updateLogger'>,
  fromMs: EpochMs,
): Promise<void> {
  const placements = [...(await store.placements(logger.id))].sort((a, b) => a.fromMs - b.fromMs);
  const last = placements.at(-1);
  const next: Placement = {
    loggerId: logger.id,
    fromMs,
    siteId: changes.site === undefined ? last?.siteId : (changes.site ?? undefined),
    position: changes.position ?? last?.position ?? 'incoming',
    heightAboveSupplyPointM: changes.heightAboveSupplyPointM ?? last?.heightAboveSupplyPointM ?? 0,
  };
  const same =
    last !== undefined &&
    last.siteId === next.siteId &&
    last.position === next.position &&
    last.heightAboveSupplyPointM === next.heightAboveSupplyPointM;
  if (same) return;
  if (last && fromMs <= last.fromMs)
    throw wrongPlace(
      'body.from',
      `must be later than ${formatRfc3339(last.fromMs)}, since when the logger is in its present place`,
    );
  await store.addPlacement(next);
  if (last && last.siteId !== next.siteId) await endCalibrations(store, logger.id, fromMs);
}

/** A calibration stays with the house it was made in: from the move on, the sensor's own line holds again. */
async function endCalibrations(store: Store, loggerId: string, fromMs: EpochMs): Promise<void> {
  if (!calibrationInForce(await store.calibrations(loggerId), 'pressure', fromMs)) return;
  const setting = settingInForce(await store.channelSettings(loggerId), 'pressure', fromMs);
  await store.addCalibration({
    loggerId,
    channel: 'pressure',
    fromMs,
    gain: 1,
    offset: 0,
    standardUncertainty: sensorStandardUncertaintyBar(setting, undefined),
    note: CALIBRATION_ENDED,
  });
}

function refuseRepeatedChannels(settings: readonly Pick<ChannelSetting, 'channel'>[]): void {
  const channels = settings.map((setting) => setting.channel);
  const index = channels.findIndex((channel, at) => channels.indexOf(channel) !== at);
  if (index >= 0) throw wrongPlace(`body.channels.${index}.channel`, `${channels[index]} is set twice`);
}

/** A mapping as it is kept; null takes it away. */
function mappingOf({ mapping }: Pick<CheckedBodyOf<'updateLogger'>, 'mapping'>): Pick<Logger, 'mapping'> {
  return mapping ? { mapping } : {};
}

function timeOf(text: string | undefined): EpochMs | undefined {
  return text === undefined ? undefined : parseRfc3339(text);
}

function refusalResource(refusal: Refusal): RefusalResource {
  return {
    topic: refusal.topic,
    time: formatRfc3339(refusal.atMs),
    reason: refusal.reason,
    excerpt: refusal.excerpt,
  };
}
