import { fileSource } from '../../../collector/csv/csv-source.ts';
import { importCsv } from '../../../collector/csv/import-csv.ts';

/** Imports the file named by its first argument into nothing and prints its counts and the process's largest size. */
const report = await importCsv({
  input: fileSource(process.argv[2]!),
  options: { loggerId: 'front-hall', channel: 'pressure' },
  nowMs: Date.UTC(2027, 0, 1),
  storePieces: async (pieces) => pieces.map((piece) => ({ stored: piece.timeMs.length, duplicate: 0, conflict: 0 })),
});
console.log(JSON.stringify({ ...report, largestKb: process.resourceUsage().maxRSS }));
