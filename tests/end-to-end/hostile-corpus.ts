import { CHANNELS } from '../../collector/model/channel.ts';

/*
 * Messages as nobody should send them: a corpus of tricks, changed at random by byte and by piece. Where a trick has a
 * home, it stands beside it: JSON is RFC 8259, SenML is RFC 8428, UTF-8 is RFC 3629, topics are MQTT 3.1.1 section 4.7.
 */

export type Random = () => number;

/** Lehmer's generator (Park and Miller 1988): the same seed, the same messages. */
export function randomFrom(seed: number): Random {
  let state = seed % 2147483647 || 1;
  return () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
}

const LIMIT_BYTES = 256 * 1024;

const TEXTS: readonly string[] = [
  // Numbers (RFC 8259 section 6), and what looks like one.
  ...['1.482', '-0', '0', '1e308', '1e309', '-1e400', '5e-324', '1e-999', '9007199254740993', '1.7976931348623157e308'],
  ...[
    '01',
    '.5',
    '1.',
    '+1',
    '0x10',
    '1_000',
    '1,5',
    '1e',
    '--1',
    '1 2',
    '１.５',
    '٣',
    '1\u00a0',
    '\ufeff1.5',
    '1\u0000',
  ],
  ...[
    'NaN',
    'nan',
    'NAN',
    'Infinity',
    '-Infinity',
    'inf',
    '1.#QNAN',
    'null',
    'undefined',
    'true',
    'on',
    'OFF',
    'false',
  ],
  `${'9'.repeat(400)}`,
  `0.${'1'.repeat(5000)}`,
  `1e${'9'.repeat(300)}`,
  `-${'-'.repeat(2000)}1`,
  // Objects and lists.
  ...[
    '{}',
    '[]',
    '""',
    '"1.5"',
    '[null]',
    '[[]]',
    '[1,2,3]',
    '{"value":1}',
    '{"value":"1"}',
    '{"value":{}}',
    '{"value":[1]}',
  ],
  ...['{"value":1,"value":2}', '{"value":1e999,"time":0}', '{"time":"2026-05-04T06:31:07Z"}', '{"value":true}'],
  ...['{"value":1,"time":"2026-05-04T06:31:07Z"}', '[{"value":1,"time":1777876267},{"value":2,"time":1777876268000}]'],
  ...[
    '{"value":1,"time":-1}',
    '{"value":1,"time":1e300}',
    '{"value":1,"time":"2026-13-45T99:99:99Z"}',
    '{"value":1,"time":NaN}',
  ],
  ...[
    '{"value":1,"time":"2026-02-30T00:00:00Z"}',
    '{"value":1,"time":"2026-05-04T23:59:60Z"}',
    '{"value":1,"time":"0000-01-01T00:00:00Z"}',
  ],
  ...[
    '{"value":1,"time":"2026-05-04T06:31:07+99:99"}',
    '{"value":1,"time":253402300800}',
    '{"value":1,"time":99999999999}',
  ],
  ...['{"__proto__":{"value":1}}', '{"constructor":{"prototype":{"value":1}}}', '{"value":1,"__proto__":{"time":1}}'],
  ...[
    '{"toString":1,"value":1}',
    '{"hasOwnProperty":1,"value":2}',
    '{"valueOf":{},"value":{"valueOf":1}}',
    '{"length":9,"0":1}',
  ],
  ...[
    '{"value":1',
    '{"value":',
    '{',
    '[',
    '[{',
    '[{"value":1},',
    '{"value":1}}',
    '{"value":1}{"value":2}',
    "{'value':1}",
  ],
  ...[
    '{"value":1,}',
    '[1,]',
    '// 1',
    '/* */1',
    '{value:1}',
    '{"value":"\\ud800"}',
    '"\\u0000"',
    '{"\\u0000":1,"value":1}',
  ],
  ...[
    '<script>alert(1)</script>',
    '{"value":"<img src=x onerror=alert(1)>"}',
    '$(id)',
    '%s%n%x',
    "'; drop table tail_piece; --",
  ],
  ...['\u001b[2J\u001b[1;31m1.5', '\u202e5.1', 'a\r\nb: c', '\u0000\u0001\u0002', '🚰', '\ud83d', '\u2028', ' \t\r\n '],
  '['.repeat(100_000),
  `${'['.repeat(5000)}${']'.repeat(5000)}`,
  `${'{"value":'.repeat(3000)}1${'}'.repeat(3000)}`,
  `[${'0,'.repeat(3599)}0]`,
  `[${'0,'.repeat(3600)}0]`,
  `[${'{"value":1},'.repeat(3599)}{"value":1}]`,
  `[${'{},'.repeat(80_000)}{}]`,
  `{"value":1,"note":"${'x'.repeat(LIMIT_BYTES - 24)}"}`,
  `${' '.repeat(LIMIT_BYTES - 1)}1`,
  `${' '.repeat(LIMIT_BYTES)}1`,
  `{${Array.from({ length: 5000 }, (_, i) => `"k${i}":${i}`).join(',')}}`,
  // SenML (RFC 8428): base values, versions, unknown mandatory fields, relative times, sums.
  ...['[{"bn":"a:","bt":1777876267,"bu":"Pa","n":"pressure","v":148200},{"n":"pressure","t":1,"v":148300}]'],
  ...[
    '[{"v":1}]',
    '[{"bv":1}]',
    '[{"bt":1e300,"v":1}]',
    '[{"bver":11,"v":1}]',
    '[{"bver":"10","v":1}]',
    '[{"bver":10},{"bver":9,"v":1}]',
  ],
  ...[
    '[{"n":"a","v":1,"x_":0}]',
    '[{"n":"a","vs":"1"}]',
    '[{"n":"a","vb":true}]',
    '[{"n":"a","vd":"aGk"}]',
    '[{"n":"a","s":3}]',
  ],
  ...[
    '[{"n":"a/pressure","v":1,"vs":"1","vb":false}]',
    '[{"bn":"","n":"","v":1}]',
    '[{"bn":{},"v":1}]',
    '[{"n":"__proto__","v":1}]',
  ],
  ...[
    '[{"v":1,"t":-1e9}]',
    '[{"v":1,"t":268435456}]',
    '[{"v":1,"t":268435455}]',
    '[{"v":1,"ut":-1}]',
    '[{"bv":1e308},{"bv":1e308,"v":1e308}]',
  ],
  ...[
    '[{"u":"Pa","v":1},{"u":"furlong","v":1},{"u":{},"v":1}]',
    '[{"bs":1,"s":1},{"v":null}]',
    '[{"n":"pressure","v":1},null,3,[],"x"]',
  ],
  ...['online', 'offline', 'ONLINE', ' online ', 'onlinee'],
];

const BYTES: readonly Uint8Array[] = [
  new Uint8Array(0),
  // Not UTF-8: overlong forms, lone surrogates, beyond U+10FFFF, cut short (RFC 3629 sections 3 and 10).
  ...[[0xc0, 0x80], [0xed, 0xa0, 0x80], [0xf4, 0x90, 0x80, 0x80], [0xe2, 0x82], [0xff, 0xfe], [0x80], [0x31, 0xff]].map(
    (bytes) => Uint8Array.from(bytes),
  ),
  Uint8Array.from([0x1f, 0x8b, 0x08, 0, 0, 0, 0, 0, 0, 3]),
  new Uint8Array(LIMIT_BYTES).fill(0x5b),
  new Uint8Array(LIMIT_BYTES + 1).fill(0x31),
  ...TEXTS.map((text) => new Uint8Array(Buffer.from(text))),
];
const SHORT = BYTES.filter((bytes) => bytes.length < 2000);
const LONG = BYTES.filter((bytes) => bytes.length >= 2000);
/** One message in so many is long: they cost a hundred times a short one. */
const LONG_EVERY = 400;

const TOPICS: readonly string[] = [
  ...CHANNELS.flatMap((channel) => Array<string>(6).fill(`mainsdiary/front-hall/${channel}`)),
  ...['mainsdiary/front-hall/status', 'mainsdiary/cellar/status', 'mainsdiary/cellar/pressure'],
  ...[
    '',
    '/',
    '//',
    '///',
    'mainsdiary',
    'mainsdiary/',
    'mainsdiary//',
    'mainsdiary//pressure',
    '/mainsdiary/front-hall/pressure',
  ],
  ...[
    'mainsdiary/front-hall/pressure/',
    'mainsdiary/front-hall/pressure/x',
    'mainsdiary/front-hall/',
    'mainsdiary/front-hall',
  ],
  ...[
    'mainsdiary/front-hall/Pressure',
    'mainsdiary/FRONT-HALL/pressure',
    'mainsdiary/front hall/pressure',
    'MAINSDIARY/front-hall/pressure',
  ],
  ...[
    'mainsdiary/+/pressure',
    'mainsdiary/#',
    '#',
    '+/+/+',
    '$SYS/broker',
    'mainsdiary/$SYS/pressure',
    'mainsdiary/../pressure',
  ],
  ...[
    'mainsdiary/__proto__/pressure',
    'mainsdiary/constructor/pressure',
    'mainsdiary/front-hall/__proto__',
    'mainsdiary/front-hall/constructor',
  ],
  ...[
    'mainsdiary/toString/flow',
    'mainsdiary/front-hall/toString',
    'mainsdiary/front-hall/pressure\u0000',
    'mainsdiary/\u202e/flow',
  ],
  ...[
    `mainsdiary/${'a'.repeat(64)}/pressure`,
    `mainsdiary/${'a'.repeat(65)}/pressure`,
    `${'x/'.repeat(5000)}x`,
    'x'.repeat(60_000),
  ],
];

export interface HostileMessage {
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly qos: 0 | 1;
  readonly duplicate: boolean;
  readonly retained: boolean;
}

/** The next message: a piece of the corpus as it is, or changed. */
export function hostileMessage(random: Random): HostileMessage {
  return {
    topic: random() < 0.97 ? pick(TOPICS, random) : mutatedText(pick(TOPICS, random), random),
    payload: hostilePayload(random),
    qos: random() < 0.8 ? 1 : 0,
    duplicate: random() < 0.2,
    retained: random() < 0.05,
  };
}

export function hostilePayload(random: Random): Uint8Array {
  const from = random() * LONG_EVERY < 1 ? LONG : SHORT;
  const chosen = pick(from, random);
  return random() < 0.25 ? chosen : mutated(chosen, from, random);
}

/** Bytes changed, cut, doubled, spliced with others, or with a number in them made another. */
export function mutated(bytes: Uint8Array, others: readonly Uint8Array[], random: Random): Uint8Array {
  const at = Math.floor(random() * (bytes.length + 1));
  switch (Math.floor(random() * 6)) {
    case 0: {
      const changed = Uint8Array.from(bytes);
      for (let i = 0; i <= random() * 3 && changed.length > 0; i++)
        changed[Math.floor(random() * changed.length)] = Math.floor(random() * 256);
      return changed;
    }
    case 1:
      return bytes.subarray(0, at);
    case 2:
      return Buffer.concat([bytes.subarray(0, at), Uint8Array.of(Math.floor(random() * 256)), bytes.subarray(at)]);
    case 3: {
      const other = pick(others, random);
      return Buffer.concat([bytes.subarray(0, at), other.subarray(Math.floor(random() * other.length))]);
    }
    case 4: {
      const to = at + Math.floor(random() * (bytes.length - at));
      return Buffer.concat([bytes.subarray(0, to), bytes.subarray(at)]);
    }
    default:
      return Buffer.from(
        Buffer.from(bytes)
          .toString()
          .replace(/-?\d+(\.\d+)?/, () => String((random() - 0.5) * 10 ** Math.floor(random() * 30))),
      );
  }
}

function mutatedText(text: string, random: Random): string {
  const bytes = mutated(Buffer.from(text), [Buffer.from(text)], random);
  return Buffer.from(bytes).toString();
}

function pick<T>(from: readonly T[], random: Random): T {
  return from[Math.floor(random() * from.length)]!;
}
