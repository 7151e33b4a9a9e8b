/** Calls on a running program, as a script would make them. */
export async function api<Answer = unknown>(
  base: string,
  method: string,
  path: string,
  body?: unknown,
): Promise<Answer> {
  const response = await fetch(`${base}${path}`, {
    method,
    ...(body === undefined ? {} : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }),
  });
  if (!response.ok) throw new Error(`${method} ${path} answered ${response.status}: ${await response.text()}`);
  return (response.status === 204 ? undefined : await response.json()) as Answer;
}

export async function addSite(base: string, name = '12 Sample Row', timeZone = 'Europe/London'): Promise<string> {
  return (await api<{ id: string }>(base, 'POST', '/api/sites', { name, timeZone })).id;
}

/** Adds a logger and returns its key. */
export async function addLogger(
  base: string,
  site: string,
  id: string,
  more: Record<string, unknown> = {},
): Promise<string> {
  const body = {
    id,
    site,
    position: 'incoming',
    channels: [{ channel: 'pressure', unit: 'bar', rangeBar: [0, 10] }],
    ...more,
  };
  return (await api<{ key: string }>(base, 'POST', '/api/loggers', body)).key;
}

/** Every stored sample of a channel, from the CSV export: time in epoch milliseconds, value as sent. */
export async function exportedSamples(
  base: string,
  logger: string,
  channel = 'pressure',
): Promise<[timeMs: number, value: number][]> {
  const query = new URLSearchParams({ channel, from: '2000-01-01T00:00:00Z', to: '2100-01-01T00:00:00Z' });
  const response = await fetch(`${base}/api/loggers/${logger}/series?${query}`, { headers: { accept: 'text/csv' } });
  if (!response.ok) throw new Error(`the export answered ${response.status}: ${await response.text()}`);
  const lines = (await response.text()).trim().split(/\r?\n/).slice(1);
  return lines.map((line) => {
    const [time, , asSent] = line.split(',');
    return [Date.parse(time!), Number(asSent)];
  });
}
