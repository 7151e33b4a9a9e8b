type Child = Node | string | undefined | false;
type Attributes = Readonly<Record<string, string | number | boolean | undefined | ((event: Event) => void)>>;

/**
 * One HTML element with attributes and children. Text always becomes a text node, never markup; a function is a
 * listener under its event's name; `true` sets an empty attribute, `false` and undefined set none.
 */
export function el<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  return fill(document.createElement(tag), attributes, children);
}

const SVG = 'http://www.w3.org/2000/svg';

/** One SVG element, by the same rules. */
export function svg<K extends keyof SVGElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): SVGElementTagNameMap[K] {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

/** Replaces what an element holds. */
export function replace(element: Element, ...children: Child[]): void {
  element.replaceChildren(...children.filter((child): child is Node | string => Boolean(child)));
}

function fill<E extends Element>(element: E, attributes: Attributes, children: readonly Child[]): E {
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === 'function') element.addEventListener(name, value);
    else if (value === true) element.setAttribute(name, '');
    else if (value !== undefined && value !== false) element.setAttribute(name, String(value));
  }
  element.append(...children.filter((child): child is Node | string => Boolean(child)));
  return element;
}
