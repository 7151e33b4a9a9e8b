/** A length of time in one unit that people use: 45 s, 4 min, 1 h, 1.5 h, 3 days. */
export function durationWords(ms: number): string {
  const s = Math.abs(ms) / 1000;
  if (s < 90) return `${Math.round(s)} s`;
  if (s < 55 * 60) return `${Math.round(s / 60)} min`;
  if (s < 36 * 3600) return `${Math.round(s / 900) / 4} h`;
  const days = Math.round(s / 86_400);
  return days < 730 ? `${days} days` : `${Math.round(days / 365.25)} years`;
}
