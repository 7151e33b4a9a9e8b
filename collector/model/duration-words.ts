/** A length of time as people say it: 45 s, 4 min, 1 h, 5 h 30 min, 3 days. */
export function durationWords(ms: number): string {
  const s = Math.abs(ms) / 1000;
  if (s < 90) return `${Math.round(s)} s`;
  if (s < 59.5 * 60) return `${Math.round(s / 60)} min`;
  if (s < 36 * 3600) {
    const minutes = Math.round(s / 60);
    const rest = minutes % 60;
    return `${Math.floor(minutes / 60)} h${rest === 0 ? '' : ` ${rest} min`}`;
  }
  const days = Math.round(s / 86_400);
  return days < 730 ? `${days} days` : `${Math.round(days / 365.25)} years`;
}
