import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import type { Clock } from '../../collector/model/clock.ts';
import { formatRfc3339 } from '../../collector/model/instant.ts';
import type { Store } from '../../collector/store/port.ts';
import { COLUMNS_TYPE, columnBytes } from '../contract/column-bytes.ts';
import { askedSpan, closedSpan } from '../work/asked-span.ts';
import { ANSWERED, type Handlers, TypedBytes } from './handlers.ts';
import { knownLogger } from './known-resources.ts';
import { seriesColumns } from './series-columns.ts';
import { seriesCsv } from './series-csv.ts';

/** Points where none are asked for: what a wide screen shows. */
const DEFAULT_POINTS = 2_000;
/** A chart's span has no limit of its own: the summaries of a century are still bounded. */
const SPAN_LIMIT_MS = 200 * 366 * 86_400_000;

export function seriesHandlers(needs: { store: Store; clock: Clock }): Pick<Handlers, 'series'> {
  const { store, clock } = needs;
  return {
    async series({ params, query, request, response }) {
      const { id } = await knownLogger(store, params.id);
      const { channel, points } = query;
      const extent = await store.extent(id, channel);
      const { fromMs, toMs } = closedSpan(askedSpan(query), extent, SPAN_LIMIT_MS, clock.nowMs());
      // The same address answers in several forms: a cache in between must not mix them up.
      response.vary('Accept');
      const form = request.accepts(['application/json', COLUMNS_TYPE, 'text/csv']);
      if (points === undefined && form === 'text/csv') {
        response.setHeader('Cache-Control', 'no-store');
        response.setHeader('Content-Type', 'text/csv; charset=utf-8; header=present');
        response.setHeader('Content-Disposition', `attachment; filename="${id}-${channel}.csv"`);
        // Older ones were erased by age; the file itself has no place to say so.
        const erased = (await store.erasedSpans(id, channel, fromMs, toMs)).at(-1);
        if (erased) response.setHeader('Samples-From', formatRfc3339(erased.toMs));
        await pipeline(Readable.from(seriesCsv(store, id, channel, fromMs, toMs)), response);
        return ANSWERED;
      }
      const asked = { loggerId: id, channel, fromMs, toMs, points: points ?? DEFAULT_POINTS };
      const series = await seriesColumns(store, asked);
      return form === COLUMNS_TYPE ? new TypedBytes(COLUMNS_TYPE, columnBytes(series)) : series;
    },
  };
}
