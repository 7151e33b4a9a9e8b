/** The field's own name before what is wrong with it; the path to it within the request is for those who write one. */
export function errorWords({ place, message }: { readonly place: string; readonly message: string }): string {
  const name = place
    .split('.')
    .filter((step) => !/^(\d+|body|query)$/.test(step))
    .at(-1);
  return name === undefined ? message : `${name}: ${message}`;
}
