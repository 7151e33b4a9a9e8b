import { formatRfc3339 } from '../../collector/model/instant.ts';
import type { Store } from '../../collector/store/port.ts';
import { askedSpan } from '../work/asked-span.ts';
import { type FindingsService, type MadeFindings, nothingRecorded } from '../work/findings-service.ts';
import type { LetterService } from '../work/letter-service.ts';
import { ANSWERED, type Handlers, JsonBytes } from './handlers.ts';
import { knownLogger, knownSite } from './known-resources.ts';

/** The letter as HTML brings its own style and nothing else; it may run no script and load nothing. */
const LETTER_POLICY =
  "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'self'; sandbox allow-modals";

export function findingsHandlers(needs: {
  store: Store;
  findings: FindingsService;
  letters: LetterService;
}): Pick<Handlers, 'loggerFindings' | 'siteFindings' | 'letter'> {
  const { store, findings, letters } = needs;
  return {
    async loggerFindings({ params, query }) {
      const { id } = await knownLogger(store, params.id);
      return new JsonBytes(documentOf(await findings.ofLogger(id, askedSpan(query))));
    },
    async siteFindings({ params, query }) {
      const { id } = await knownSite(store, params.id);
      const [first, ...others] = await findings.ofSite(id, askedSpan(query));
      if (!first) throw nothingRecorded(id);
      return new JsonBytes(documentOf(first, others));
    },
    async letter({ params, query, response }) {
      const { id } = await knownSite(store, params.id);
      const { format } = query;
      const letter = await letters.write(id, askedSpan(query), format);
      response.setHeader('Cache-Control', 'no-store');
      response.setHeader('Content-Disposition', `inline; filename="letter-${id}.${format}"`);
      if (format === 'html') response.setHeader('Content-Security-Policy', LETTER_POLICY);
      response.setHeader('Content-Type', format === 'html' ? 'text/html; charset=utf-8' : 'application/pdf');
      response.end(letter);
      return ANSWERED;
    },
  };
}

/** The document's text with whose it is and until when it reaches (and the others') put in before its last brace: it is not parsed for that. */
function documentOf(made: MadeFindings, others?: readonly MadeFindings[]): Uint8Array {
  const logger = `,"logger":${JSON.stringify(made.sources.stretch.loggerId)},"until":"${formatRfc3339(made.toMs)}"`;
  const parts: Uint8Array[] = [made.json.subarray(0, made.json.byteLength - 1), Buffer.from(logger)];
  if (others) {
    parts.push(Buffer.from(',"others":['));
    others.forEach((other, index) => {
      if (index > 0) parts.push(Buffer.from(','));
      parts.push(documentOf(other));
    });
    parts.push(Buffer.from(']'));
  }
  return Buffer.concat([...parts, Buffer.from('}')]);
}
