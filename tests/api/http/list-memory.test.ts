import { expect, it } from 'vitest';
import { createListMemory } from '../../../api/http/list-memory.ts';

/** A list that takes `makingMs` of a clock set by hand. */
function memoryWith(makingMs: number) {
  let nowMs = 1_000_000;
  let made = 0;
  const memory = createListMemory(() => nowMs);
  return {
    pass: (ms: number) => {
      nowMs += ms;
    },
    async ask(settings: string, record: string): Promise<number> {
      const json = await memory.get({ settings, record }, async () => {
        nowMs += makingMs;
        made += 1;
        return [made];
      });
      await Promise.resolve();
      return (JSON.parse(Buffer.from(json.bytes).toString()) as number[])[0]!;
    },
  };
}

it('makes the list once for as long as nothing changes, and anew after five seconds', async () => {
  const list = memoryWith(2);
  expect(await list.ask('a', '1')).toBe(1);
  list.pass(4_000);
  expect(await list.ask('a', '1')).toBe(1);
  list.pass(2_000);
  expect(await list.ask('a', '1')).toBe(2);
});

it('shows every new sample at once where the list is cheap', async () => {
  const list = memoryWith(2);
  expect(await list.ask('a', '1')).toBe(1);
  expect(await list.ask('a', '2')).toBe(2);
});

it('lets a dear list age ten times its making while samples pour in, and shows changed settings at once', async () => {
  const list = memoryWith(300);
  expect(await list.ask('a', '1')).toBe(1);
  list.pass(2_000);
  expect(await list.ask('a', '2')).toBe(1);
  expect(await list.ask('b', '2')).toBe(2);
  list.pass(2_800);
  expect(await list.ask('b', '3')).toBe(3);
});
