import { createRequire } from 'node:module';
import PDFDocument from 'pdfkit';
import { type Drawing, hatchStrokes, INKS, type Shape } from './drawing.ts';
import type { LetterBlock, LetterContent, LetterTable } from './letter-blocks.ts';

// Fonts with Latin, Greek and Cyrillic letters: the names of houses and streets are not all English.
const require = createRequire(import.meta.url);
const REGULAR = require.resolve('dejavu-fonts-ttf/ttf/DejaVuSans.ttf');
const BOLD = require.resolve('dejavu-fonts-ttf/ttf/DejaVuSans-Bold.ttf');

const MARGIN = 48;
const BODY_SIZE = 9.5;
const TABLE_SIZE = 8;
const FOOT_HEIGHT = 26;

type Document = PDFKit.PDFDocument;

/** The letter as PDF, A4, with the charts as vectors and page numbers. */
export async function renderPdf(content: LetterContent, writtenMs: number): Promise<Uint8Array> {
  const document = new PDFDocument({
    size: 'A4',
    margins: { top: MARGIN, left: MARGIN, right: MARGIN, bottom: MARGIN + FOOT_HEIGHT },
    bufferPages: true,
    lang: 'en-GB',
    displayTitle: true,
    info: { Title: `${content.title}: ${content.subtitle}`, Creator: 'Mains Diary', CreationDate: new Date(writtenMs) },
  });
  const chunks: Buffer[] = [];
  const finished = new Promise<void>((resolve, reject) => {
    document.on('data', (chunk: Buffer) => chunks.push(chunk));
    document.on('end', resolve);
    document.on('error', reject);
  });
  document.registerFont('regular', REGULAR);
  document.registerFont('bold', BOLD);

  if (content.banner)
    document.font('regular').fontSize(BODY_SIZE).fillColor(INKS.earth).text(content.banner).moveDown(0.6);
  document.font('bold').fontSize(17).fillColor(INKS.ink).text(content.title);
  document.font('regular').fontSize(BODY_SIZE).fillColor(INKS.faint).text(content.subtitle).moveDown(0.6);
  for (const section of content.sections) {
    keepTogether(document, 70);
    document.moveDown(0.6).font('bold').fontSize(12).fillColor(INKS.ink).text(section.heading).moveDown(0.35);
    for (const entry of section.blocks) block(document, entry);
  }
  foot(document, content);
  document.end();
  await finished;
  return Buffer.concat(chunks);
}

function block(document: Document, entry: LetterBlock): void {
  switch (entry.kind) {
    case 'paragraph':
      document
        .font('regular')
        .fontSize(BODY_SIZE)
        .fillColor(INKS.ink)
        .text(entry.text, MARGIN, document.y, { width: bodyWidth(document) })
        .moveDown(0.4);
      return;
    case 'list':
      for (const item of entry.items) listItem(document, item);
      document.moveDown(0.3);
      return;
    case 'table':
      table(document, entry.table);
      return;
    case 'chart':
      chart(document, entry.drawing, entry.caption);
      return;
    default:
      entry satisfies never;
  }
}

function listItem(document: Document, item: string): void {
  const indent = 11;
  document.font('regular').fontSize(BODY_SIZE).fillColor(INKS.ink);
  keepTogether(document, Math.min(60, document.heightOfString(item, { width: bodyWidth(document) - indent })));
  const top = document.y;
  document.text('–', MARGIN, top, { width: indent, lineBreak: false });
  document.text(item, MARGIN + indent, top, { width: bodyWidth(document) - indent });
  document.x = MARGIN;
  document.moveDown(0.25);
}

function table(document: Document, entry: LetterTable): void {
  const width = bodyWidth(document);
  const widths = columnWidths(document, entry, width);
  const heightOf = (row: readonly string[]) =>
    Math.max(...row.map((cell, index) => document.heightOfString(cell || ' ', { width: widths[index]! - 6 }))) + 4;
  const drawRow = (row: readonly string[], font: 'regular' | 'bold') => {
    document.font(font).fontSize(TABLE_SIZE).fillColor(INKS.ink);
    const top = document.y;
    const height = heightOf(row);
    let x = MARGIN;
    for (const [index, cell] of row.entries()) {
      document.text(cell, x, top + 2, { width: widths[index]! - 6 });
      x += widths[index]!;
    }
    document
      .moveTo(MARGIN, top + height)
      .lineTo(MARGIN + width, top + height)
      .lineWidth(0.4)
      .strokeColor(INKS.rule)
      .stroke();
    document.x = MARGIN;
    document.y = top + height + 1;
  };
  document.font('regular').fontSize(TABLE_SIZE);
  keepTogether(document, 60);
  document.fillColor(INKS.faint).text(entry.caption, MARGIN, document.y, { width }).moveDown(0.2);
  drawRow(entry.head, 'bold');
  for (const row of entry.rows) {
    document.font('regular').fontSize(TABLE_SIZE);
    if (document.y + heightOf(row) > bottomOf(document)) {
      document.addPage();
      drawRow(entry.head, 'bold');
    }
    drawRow(row, 'regular');
  }
  document.moveDown(0.8);
}

/** A column of this width takes most figures and dates whole; narrower ones give up nothing. */
const NARROW = 64;
const CELL_GAP = 10;

/** Columns as wide as their longest cell asks; where that is more than the page has, the wide ones give way. */
function columnWidths(document: Document, entry: LetterTable, width: number): number[] {
  const widest = (font: 'regular' | 'bold', texts: readonly string[]) => {
    document.font(font).fontSize(TABLE_SIZE);
    return Math.max(0, ...texts.map((text) => document.widthOfString(text)));
  };
  const wanted = entry.head.map((cell, index) => {
    const cells = entry.rows.map((row) => row[index] ?? '');
    return Math.min(260, Math.max(widest('bold', [cell]), widest('regular', cells)) + CELL_GAP);
  });
  const sum = (numbers: readonly number[]) => numbers.reduce((total, value) => total + value, 0);
  const over = sum(wanted) - width;
  const spare = wanted.map((value) => Math.max(0, value - NARROW));
  if (over <= 0 || sum(spare) < over) return wanted.map((value) => (value / sum(wanted)) * width);
  return wanted.map((value, index) => value - (spare[index]! / sum(spare)) * over);
}

function chart(document: Document, drawing: Drawing, caption: string): void {
  const scale = bodyWidth(document) / drawing.width;
  const height = drawing.height * scale;
  keepTogether(document, height + 20);
  document
    .font('regular')
    .fontSize(TABLE_SIZE)
    .fillColor(INKS.faint)
    .text(caption, MARGIN, document.y, { width: bodyWidth(document) })
    .moveDown(0.2);
  const top = document.y;
  document.save();
  document.translate(MARGIN, top).scale(scale);
  for (const shape of drawing.shapes) draw(document, shape);
  document.restore();
  document.x = MARGIN;
  document.y = top + height + 8;
}

function draw(document: Document, shape: Shape): void {
  switch (shape.kind) {
    case 'line':
      if (shape.points.length < 2) return;
      trace(document, shape.points);
      document.lineWidth(shape.width).strokeColor(INKS[shape.ink]).lineJoin('round');
      if (shape.dash) document.dash(shape.dash[0]!, { space: shape.dash[1] ?? shape.dash[0]! });
      document.stroke();
      if (shape.dash) document.undash();
      return;
    case 'area':
      if (shape.points.length < 3) return;
      trace(document, shape.points);
      document.closePath().fill(INKS[shape.ink]);
      return;
    case 'box':
      document.rect(shape.x, shape.y, shape.width, shape.height).fill(INKS[shape.ink]);
      return;
    case 'hatch':
      for (const [x1, y1, x2, y2] of hatchStrokes(shape)) document.moveTo(x1, y1).lineTo(x2, y2);
      document.lineWidth(0.6).strokeColor(INKS[shape.ink]).stroke();
      document.rect(shape.x, shape.y, shape.width, shape.height).lineWidth(0.8);
      if (shape.outline === 'dashed') document.dash(2, { space: 1.5 });
      document.stroke();
      if (shape.outline === 'dashed') document.undash();
      return;
    case 'text': {
      document.font('regular').fontSize(shape.size).fillColor(INKS[shape.ink]);
      const width = document.widthOfString(shape.text);
      const left =
        shape.anchor === 'start' ? shape.x : shape.anchor === 'middle' ? shape.x - width / 2 : shape.x - width;
      // SVG places text by its baseline; pdfkit by its top.
      document.text(shape.text, left, shape.y - shape.size * 0.93, { lineBreak: false });
      return;
    }
    default:
      shape satisfies never;
  }
}

function trace(document: Document, points: readonly (readonly [number, number])[]): void {
  const [first, ...rest] = points;
  document.moveTo(first![0], first![1]);
  for (const [x, y] of rest) document.lineTo(x, y);
}

function foot(document: Document, content: LetterContent): void {
  const pages = document.bufferedPageRange();
  for (let index = 0; index < pages.count; index++) {
    document.switchToPage(pages.start + index);
    const y = document.page.height - MARGIN;
    // Below the bottom margin pdfkit would start a new page for every line.
    document.page.margins.bottom = 0;
    document.font('regular').fontSize(7).fillColor(INKS.faint);
    const line = content.banner ? `${content.banner} ${content.footer}` : content.footer;
    document.text(line, MARGIN, y - 10, { width: bodyWidth(document) - 60, height: 18, ellipsis: true });
    document.text(`${index + 1} of ${pages.count}`, MARGIN, y - 10, {
      width: bodyWidth(document),
      align: 'right',
      lineBreak: false,
    });
  }
}

function keepTogether(document: Document, height: number): void {
  if (document.y + height > bottomOf(document)) document.addPage();
}

function bottomOf(document: Document): number {
  return document.page.height - document.page.margins.bottom;
}

function bodyWidth(document: Document): number {
  return document.page.width - 2 * MARGIN;
}
