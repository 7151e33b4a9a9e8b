import { drawingToSvg } from './chart-svg.ts';
import { escapeHtml } from './escape-html.ts';
import type { LetterBlock, LetterContent } from './letter-blocks.ts';

/** The style stands in the page itself, because a letter is saved and sent. */
export const LETTER_STYLE = `
body{font:16px/1.5 system-ui,sans-serif;color:#1b1b1b;background:#fff;margin:0 auto;padding:1.5rem 1rem 4rem;max-width:46rem}
h1{font-size:1.6rem;line-height:1.25;margin:0}
h2{font-size:1.15rem;margin:2.2rem 0 .6rem}
p.subtitle,footer,figcaption,caption{color:#555}
p.banner{border:1px dashed #8a4b12;color:#8a4b12;padding:.5rem .75rem}
ul{padding-left:1.2rem}
li{margin:.3rem 0}
figure{margin:1rem 0}
svg{width:100%;min-width:40rem;height:auto}
.wide{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-size:.9rem;font-variant-numeric:tabular-nums}
caption{text-align:left;padding:.4rem 0}
th,td{text-align:left;min-width:4.8em;padding:.3rem .7rem .3rem 0;border-bottom:1px solid #ddd;vertical-align:top}
footer{margin-top:2.5rem;font-size:.85rem}
@media print{body{padding:0;max-width:none;font-size:11pt}svg,th,td{min-width:0}.wide{overflow:visible}h2{break-after:avoid}figure,tr{break-inside:avoid}}
`;

/** The letter as one HTML page that needs nothing else: no script, no font, no picture from elsewhere. */
export function renderHtml(content: LetterContent): string {
  const banner = content.banner ? `<p class="banner">${escapeHtml(content.banner)}</p>` : '';
  const sections = content.sections
    .map((section) => `<section><h2>${escapeHtml(section.heading)}</h2>${section.blocks.map(block).join('')}</section>`)
    .join('');
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>${escapeHtml(`${content.title}: ${content.subtitle}`)}</title><style>${LETTER_STYLE}</style></head>
<body><main>${banner}<h1>${escapeHtml(content.title)}</h1><p class="subtitle">${escapeHtml(content.subtitle)}</p>${sections}</main><footer>${escapeHtml(content.footer)}</footer></body></html>
`;
}

function block(entry: LetterBlock): string {
  switch (entry.kind) {
    case 'paragraph':
      return `<p>${escapeHtml(entry.text)}</p>`;
    case 'list':
      return `<ul>${entry.items.map((item) => `<li>${escapeHtml(item)}</li>`).join('')}</ul>`;
    case 'table': {
      const head = entry.table.head.map((cell) => `<th scope="col">${escapeHtml(cell)}</th>`).join('');
      const rows = entry.table.rows
        .map((row) => `<tr>${row.map((cell) => `<td>${escapeHtml(cell)}</td>`).join('')}</tr>`)
        .join('');
      const caption = `<caption>${escapeHtml(entry.table.caption)}</caption>`;
      return wide(
        entry.table.caption,
        `<table>${caption}<thead><tr>${head}</tr></thead><tbody>${rows}</tbody></table>`,
      );
    }
    case 'chart':
      return `<figure><figcaption>${escapeHtml(entry.caption)}</figcaption>${wide(entry.caption, drawingToSvg(entry.drawing))}</figure>`;
    default:
      return entry satisfies never;
  }
}

/** What is wider than a phone is moved sideways by itself, by thumb and by keyboard. */
function wide(name: string, html: string): string {
  return `<div class="wide" tabindex="0" role="region" aria-label="${escapeHtml(name)}">${html}</div>`;
}
