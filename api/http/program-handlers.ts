import type { AboutResponse, HealthResponse } from '../contract/payloads.ts';
import { ANSWERED, type Handlers } from './handlers.ts';
import type { Metrics } from './metrics.ts';

/** What the program says of itself; made by the composition, which knows all its parts. */
export interface ProgramStatus {
  /** `status` is `ok` only when samples can be taken and shown. */
  health(): Promise<HealthResponse>;
  about(): Promise<AboutResponse>;
}

export function programHandlers(needs: {
  status: ProgramStatus;
  metrics: Metrics;
}): Pick<Handlers, 'health' | 'about' | 'metrics'> {
  const { status, metrics } = needs;
  return {
    async health({ response }) {
      const health = await status.health();
      response.setHeader('Cache-Control', 'no-store');
      response
        .status(health.status === 'ok' ? 200 : 503)
        .type('application/json')
        .end(JSON.stringify(health));
      return ANSWERED;
    },
    about: () => status.about(),
    async metrics({ response }) {
      response.setHeader('Cache-Control', 'no-store');
      response.setHeader('Content-Type', metrics.contentType);
      response.end(await metrics.text());
      return ANSWERED;
    },
  };
}
