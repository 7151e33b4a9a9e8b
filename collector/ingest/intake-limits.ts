/* Every bound of the way in, in one place. Each is told to whoever runs into it. */

/** Bytes of one message's payload; a batch of 3,600 readings with times takes some 180 kB. */
export const MAX_PAYLOAD_BYTES = 256 * 1024;
/** Entries of one batch: an hour at one reading a second. */
export const MAX_BATCH_ENTRIES = 3600;
/** The earliest plausible time: no logger is older, and an unset clock shows 1970 or 1980. */
export const EARLIEST_PLAUSIBLE_MS = Date.UTC(2000, 0, 1);
/** How far a logger's clock may run ahead: a time zone taken wrongly is at most 14 h, plus drift. */
export const LATEST_AFTER_ARRIVAL_MS = 24 * 3_600_000;
/** Below this a number is Unix seconds (until the year 5138), from there on milliseconds (from 1973 on). */
export const SECONDS_BELOW = 1e11;
/** Bytes of a refused message that are kept to look at. */
export const EXCERPT_BYTES = 200;
/** Characters of a refused message's topic that are kept; a topic of ours has at most 87. */
export const TOPIC_CHARACTERS = 200;
