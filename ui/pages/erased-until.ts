import type { LoggerResource } from '../../api/contract/payloads.ts';

/** Until when single readings of some channel were erased by age; undefined where all of them stand. */
export function erasedUntilMs(loggers: readonly Pick<LoggerResource, 'extents'>[]): number | undefined {
  const ends = loggers
    .flatMap((logger) => logger.extents)
    .flatMap((extent) => (extent.samplesFrom ? [Date.parse(extent.samplesFrom)] : []));
  return ends.length === 0 ? undefined : Math.max(...ends);
}
