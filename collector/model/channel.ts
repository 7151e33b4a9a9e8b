/** What a logger can measure. The closed list gives the type, the topic's last level and the documentation. */
export const CHANNELS = ['pressure', 'flow', 'pump', 'temperature', 'battery', 'signal'] as const;
export type Channel = (typeof CHANNELS)[number];

export function isChannel(text: string): text is Channel {
  return (CHANNELS as readonly string[]).includes(text);
}

/** Where the transducer sits. What may be concluded from its readings depends on it. */
export const POSITIONS = ['incoming', 'pump_inlet', 'pump_outlet'] as const;
export type Position = (typeof POSITIONS)[number];

/** The unit in which a channel is shown, analysed and exported, whatever the logger sent. */
export const CANONICAL_UNIT = {
  pressure: 'bar',
  flow: 'l/min',
  pump: 'on/off',
  temperature: 'degC',
  battery: 'V',
  signal: 'dBm',
} as const satisfies Record<Channel, string>;

/** Logger names: they stand in topics, addresses and file names, so nothing that needs escaping anywhere. */
export const LOGGER_ID_PATTERN = /^[a-z0-9_-]{1,64}$/;

export function isLoggerId(text: string): boolean {
  return LOGGER_ID_PATTERN.test(text);
}
