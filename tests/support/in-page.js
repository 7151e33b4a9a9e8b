// Runs inside the browser before the page's own scripts; tests ask it what only the page can know. Plain JavaScript,
// because nothing but the browser ever compiles it.
globalThis.inPage = {
  /** True once nothing on the page says that it is still loading. */
  settled() {
    const text = document.querySelector('main')?.textContent ?? '';
    return text.length > 0 && !/Loading|Reading the log|being worked out/.test(text);
  },

  /** Opens all that is closed, so that it is judged too. */
  openAll() {
    for (const details of document.querySelectorAll('details')) details.open = true;
  },

  /** Place and size of each day's strip. */
  stripBoxes() {
    return [...document.querySelectorAll('.day .strip')].map((strip) => {
      const { left, width, height } = strip.getBoundingClientRect();
      return `${left} ${width} ${height}`;
    });
  },

  /** How far the page can be scrolled sideways, in pixels. */
  sidewaysPx() {
    return document.documentElement.scrollWidth - document.documentElement.clientWidth;
  },

  /**
   * Controls that a thumb would miss: under 44 px high or wide (WCAG 2.2, 2.5.5), links within a sentence excepted as
   * there. A radio button or box is as large as its label.
   */
  smallTargets() {
    const inSentence = (element) =>
      element.matches('p > a, li > a, dd > a') && element.parentElement.textContent !== element.textContent;
    const target = (element) =>
      element.matches('[type=radio], [type=checkbox]') ? (element.closest('label') ?? element) : element;
    return [...document.querySelectorAll('a[href], button, input, select, summary')]
      .map(target)
      .filter((element) => element.checkVisibility() && !element.matches('.skip') && !inSentence(element))
      .filter((element) => {
        const { width, height } = element.getBoundingClientRect();
        return height < 43.9 || width < 43.9;
      })
      .map((element) => element.outerHTML.slice(0, 160));
  },

  /** Serious and critical findings of axe-core, which must have been loaded, each with the element it is about. */
  async seriousViolations() {
    const rules = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa'];
    const { violations } = await globalThis.axe.run(document, { runOnly: rules, resultTypes: ['violations'] });
    return violations
      .filter((entry) => entry.impact === 'serious' || entry.impact === 'critical')
      .flatMap((entry) => entry.nodes.map((node) => `${entry.id}: ${node.html.slice(0, 160)}`));
  },

  /** What the keyboard's focus is on, by its name; empty where it is on nothing. */
  focused() {
    const element = document.activeElement;
    return !element || element === document.body ? '' : this.nameOf(element);
  },

  /** What a screen reader calls a control: its label, else its text. */
  nameOf(element) {
    const label = element.getAttribute('aria-label') ?? element.labels?.[0]?.textContent ?? element.textContent;
    return label.replace(/\s+/g, ' ').trim();
  },

  /** The controls that can be reached in the open part under a summary of this text, by their names, in their order. */
  controlsUnder(summary) {
    const part = [...document.querySelectorAll('details')].find(
      (details) => details.querySelector('summary').textContent === summary,
    );
    return [...part.querySelectorAll('input, select, textarea, button')]
      .filter((element) => element.checkVisibility() && !element.disabled)
      .map((element) => this.nameOf(element));
  },

  /** What is said to be wrong with the control that has the focus, as a screen reader finds it: marked, and described. */
  wrongHere() {
    const element = document.activeElement;
    if (element?.getAttribute('aria-invalid') !== 'true') return '';
    return (element.getAttribute('aria-describedby') ?? '')
      .split(' ')
      .map((id) => document.getElementById(id))
      .filter((note) => note?.getAttribute('role') === 'alert')
      .map((note) => note.textContent)
      .join(' ');
  },

  /** Pixels of the first chart in the colour of water and in that of earth (light theme). */
  inked() {
    const canvas = document.querySelector('.chart canvas');
    const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
    const inked = { water: 0, earth: 0 };
    for (let at = 0; at < data.length; at += 4) {
      const [red, green, blue, alpha] = data.subarray(at, at + 4);
      if (alpha > 200 && blue > red + 80 && green < 130) inked.water += 1;
      if (alpha > 200 && red > blue + 60 && green < 130) inked.earth += 1;
    }
    return inked;
  },

  /** Every text that a canvas drew, with its place across in whole pixels. */
  canvasTexts: [],
};

const drawText = CanvasRenderingContext2D.prototype.fillText;
CanvasRenderingContext2D.prototype.fillText = function fillText(text, x, ...rest) {
  globalThis.inPage.canvasTexts.push(`${text}@${Math.round(x)}`);
  return drawText.call(this, text, x, ...rest);
};
