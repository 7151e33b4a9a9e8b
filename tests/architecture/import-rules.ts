/**
 * Who may import whom, each rule with the reason that is printed when it is broken. Paths are regular expressions on
 * paths relative to the project. Type-only imports count like others unless a rule says `typesAllowed`.
 */
export interface ImportRule {
  readonly name: string;
  readonly reason: string;
  readonly from: { readonly path: string; readonly pathNot?: string };
  readonly to: { readonly path: string; readonly pathNot?: string };
  readonly typesAllowed?: boolean;
}

/** Files that compose the program; they alone may reach everything but the page. */
const COMPOSERS = '^api/(compose\\.ts|command-line/)';

export const IMPORT_RULES: readonly ImportRule[] = [
  {
    name: 'model-imports-nothing',
    reason: 'The words of the system run in the server and in the page; whatever they imported would come along.',
    from: { path: '^collector/model/' },
    to: { path: '.', pathNot: '^collector/model/|(^|/)(node_modules/)?(@types/)?luxon' },
  },
  {
    name: 'collector-looks-at-nothing-above',
    reason: 'The record must be kept whatever happens to analysis, page or simulator, so it knows none of them.',
    from: { path: '^collector/' },
    to: { path: '^(api|ui|simulator|tests)/' },
  },
  {
    name: 'analysis-is-pure',
    reason:
      'Findings are functions from columns and site data: no clock, file, random, network or package, so that they can be checked, cached and run anywhere.',
    from: { path: '^api/analysis/' },
    to: { path: '.', pathNot: '^api/analysis/|^collector/model/' },
  },
  {
    name: 'hydraulics-is-pure',
    reason: 'Hydraulics are formulas with sources; they need nothing but the words.',
    from: { path: '^api/hydraulics/' },
    to: { path: '.', pathNot: '^api/hydraulics/|^collector/model/' },
  },
  {
    name: 'api-does-not-look-at-the-page-or-the-simulator',
    reason: 'The server must run without them; only the composition joins the demo.',
    from: { path: '^api/', pathNot: COMPOSERS },
    to: { path: '^(ui|simulator|tests)/' },
  },
  {
    name: 'nothing-imports-the-page',
    reason: 'The page is built for browsers; the server hands it out as files.',
    from: { path: '^(api|collector|simulator)/' },
    to: { path: '^ui/' },
  },
  {
    name: 'page-imports-only-the-contract-and-the-words',
    reason: 'What the page imports at run time is downloaded to a phone under a sink, and a schema library is 60 kB.',
    from: { path: '^ui/' },
    to: {
      path: '^(api|collector|simulator|tests)/',
      pathNot:
        '^api/contract/(route-table|live-frames|finding-counts|column-bytes)\\.ts$|^api/figures/|^collector/model/',
    },
    typesAllowed: true,
  },
  {
    name: 'figures-are-pure',
    reason:
      'Page and letter draw from the same chart data, and a phone downloads it: it needs nothing but itself and types.',
    from: { path: '^api/figures/' },
    to: { path: '.', pathNot: '^api/figures/' },
    typesAllowed: true,
  },
  {
    name: 'simulator-uses-the-collector-only',
    reason: 'A simulator that shared code with the analysis would prove nothing.',
    from: { path: '^simulator/' },
    to: { path: '^(api|ui|tests)/' },
    typesAllowed: true,
  },
  {
    name: 'contract-imports-only-the-words',
    reason: 'The contract is read by the server, the page and the API description; it must not pull in a part of any.',
    from: { path: '^api/contract/' },
    to: {
      path: '^(api|collector|ui|simulator)/',
      pathNot: '^api/contract/|^collector/model/|^api/analysis/findings\\.ts$',
    },
  },
  {
    name: 'letter-reads-findings-only',
    reason: 'The letter is drawn from the same findings as the page and must not look at the store or the network.',
    from: { path: '^api/letter/' },
    to: {
      path: '^(api|collector|ui|simulator)/',
      pathNot: '^api/letter/|^api/figures/|^collector/model/|^api/analysis/|^api/standards/',
    },
  },
  {
    name: 'only-composition-reaches-the-sqlite-store',
    reason: 'Every part speaks to the store through its port, so that another engine can stand behind it.',
    from: { path: '^(api|collector|simulator)/', pathNot: `${COMPOSERS}|^collector/store/` },
    to: { path: '^collector/store/sqlite/' },
  },
  {
    name: 'nothing-imports-the-composition',
    reason: 'Parts get what they need as arguments; a part that fetched the program would be all of it.',
    from: { path: '^(api|collector|simulator|ui)/', pathNot: '^api/command-line/' },
    to: { path: COMPOSERS },
    typesAllowed: true,
  },
  {
    name: 'tests-are-imported-by-nothing',
    reason: 'What runs in a house must not depend on what checks it.',
    from: { path: '^(api|collector|simulator|ui)/' },
    to: { path: '^tests/' },
  },
];

/** Libraries with one owner: exactly these files may import them. */
export const LIBRARY_OWNERS: readonly {
  readonly library: string;
  readonly owners: readonly string[];
  readonly reason: string;
}[] = [
  {
    library: 'better-sqlite3',
    owners: ['collector/store/sqlite/open-database.ts'],
    reason: 'pragmas, durability and errors are decided in one place',
  },
  {
    library: 'aedes',
    owners: ['collector/ingest/embedded-broker.ts'],
    reason: 'the held acknowledgement leans on its internals',
  },
  {
    library: 'mqtt',
    owners: ['collector/ingest/broker-subscriber.ts', 'simulator/publish.ts'],
    reason: 'one subscriber, one simulated publisher',
  },
  {
    library: 'compression',
    owners: ['api/http/compressed.ts'],
    reason: 'what may be packed, and what must not, is decided in one place',
  },
  { library: 'ws', owners: ['api/live/live-socket.ts'], reason: 'backlog and frame bounds are set once' },
  {
    library: 'uplot',
    owners: ['ui/chart/pressure-chart.ts'],
    reason: 'its time-zone trap is worked round in one place',
  },
  { library: 'pdfkit', owners: ['api/letter/render-pdf.ts'], reason: 'one writer of PDF' },
  { library: 'prom-client', owners: ['api/http/metrics.ts'], reason: 'one registry' },
  {
    library: 'commander',
    owners: ['api/command-line/main.ts'],
    reason: 'commands are plain functions; only the program knows the parser',
  },
  {
    library: 'csv-parse',
    owners: ['collector/csv/csv-tokens.ts'],
    reason: 'bounds of a record, line numbers and the cost of ragged rows are dealt with once',
  },
  { library: 'luxon', owners: ['collector/model/local-time.ts'], reason: 'local days are judged in one place' },
];
