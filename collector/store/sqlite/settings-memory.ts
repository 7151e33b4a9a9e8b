import type { Placement } from '../../model/logger.ts';

/** What is set by people, few and read often; state changes too often to be kept. */
const KEPT_KINDS = ['site', 'logger', 'placement', 'channel', 'calibration'] as const;
export type KeptKind = (typeof KEPT_KINDS)[number];

export function isKept(kind: string): kind is KeptKind {
  return (KEPT_KINDS as readonly string[]).includes(kind);
}

/** Documents of settings, read once: a list of a thousand loggers would otherwise read and parse thousands of rows. */
export interface SettingsMemory {
  /** In order of their ids. */
  all(kind: KeptKind): object[];
  /** In order of channel and date. */
  of(kind: KeptKind, id: string): object[];
  placementsAt(siteId: string): readonly Placement[];
  /** An entry under this id was written. */
  changed(kind: KeptKind, id: string): void;
  forget(): void;
}

interface Kept {
  readonly byId: Map<string, readonly object[]>;
  /** Undefined after a change, until all are asked for. */
  all: readonly object[] | undefined;
}

/** `readAll` gives every document of a kind, `readOf` those of one id, as they stand in the file. */
export function createSettingsMemory(
  readAll: (kind: KeptKind) => readonly { readonly id?: string; readonly loggerId?: string }[],
  readOf: (kind: KeptKind, id: string) => readonly object[],
): SettingsMemory {
  const kinds = new Map<KeptKind, Kept>();
  let bySite: Map<string | undefined, Placement[]> | undefined;

  function keptOf(kind: KeptKind): Kept {
    const known = kinds.get(kind);
    if (known) return known;
    const all = readAll(kind);
    const byId = new Map<string, object[]>();
    for (const document of all) {
      // Sites and loggers have an id; everything else belongs to a logger.
      const id = document.id ?? document.loggerId ?? '';
      const others = byId.get(id);
      if (others) others.push(document);
      else byId.set(id, [document]);
    }
    // Of one id they come by channel, which a list of all does not.
    if (kind === 'channel' || kind === 'calibration')
      for (const [id, documents] of byId) if (documents.length > 1) byId.set(id, [...readOf(kind, id)]);
    const kept = { byId, all };
    kinds.set(kind, kept);
    return kept;
  }

  function placementsBySite(): Map<string | undefined, Placement[]> {
    const groups = new Map<string | undefined, Placement[]>();
    for (const placement of [...keptOf('placement').byId.values()].flat() as Placement[]) {
      const others = groups.get(placement.siteId);
      if (others) others.push(placement);
      else groups.set(placement.siteId, [placement]);
    }
    return groups;
  }

  return {
    all(kind) {
      const kept = keptOf(kind);
      kept.all ??= readAll(kind);
      return [...kept.all];
    },
    of: (kind, id) => [...(keptOf(kind).byId.get(id) ?? [])],
    placementsAt(siteId) {
      bySite ??= placementsBySite();
      return bySite.get(siteId) ?? [];
    },
    changed(kind, id) {
      const kept = kinds.get(kind);
      if (kept) {
        kept.byId.set(id, readOf(kind, id));
        kept.all = undefined;
      }
      if (kind === 'placement') bySite = undefined;
    },
    forget() {
      kinds.clear();
      bySite = undefined;
    },
  };
}
