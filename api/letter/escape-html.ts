const ENTITIES: Record<string, string> = { '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;', "'": '&#39;' };

/** Text as it may stand in HTML or SVG, in an element or an attribute; control characters become a question mark. */
export function escapeHtml(text: string): string {
  return text.replace(/[^\P{Cc}\n\t]/gu, '?').replace(/[&<>"']/g, (letter) => ENTITIES[letter]!);
}
