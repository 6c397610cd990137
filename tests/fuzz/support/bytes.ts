import fc from 'fast-check';

/** Bytes of any content, and bytes that some readers stumble over. */
const anyBytes = (maxLength: number) =>
  fc.oneof(
    fc.uint8Array({ maxLength }).map((bytes) => Buffer.from(bytes)),
    fc
      .array(fc.constantFrom(0, 9, 10, 13, 29, 30, 34, 39, 40, 44, 48, 61, 91, 127, 194, 255), {
        maxLength,
      })
      .map((bytes) => Buffer.from(bytes)),
  );

type Edit = (bytes: Buffer) => Buffer;

/** One thing that goes wrong with bytes: lost, doubled, flipped, put in, or moved. */
const edit: fc.Arbitrary<Edit> = fc
  .tuple(fc.nat(5), fc.nat(1_000_000), fc.nat(1_000_000), anyBytes(8))
  .map(([kind, one, other, added]): Edit => {
    return (bytes) => {
      const [from, to] = [one % (bytes.length + 1), other % (bytes.length + 1)].sort(
        (a, b) => a - b,
      ) as [number, number];
      const [before, middle, after] = [
        bytes.subarray(0, from),
        bytes.subarray(from, to),
        bytes.subarray(to),
      ];
      if (kind === 0) return Buffer.concat([before, after]);
      if (kind === 1) return Buffer.concat([before, middle, middle, after]);
      if (kind === 2) return Buffer.concat([before, added, middle, after]);
      if (kind === 3) return Buffer.concat([middle, before, after]);
      if (kind === 4) return before;
      const flipped = Buffer.from(bytes);
      if (from < flipped.length) flipped[from] = (flipped[from] ?? 0) ^ (1 << (other % 8));
      return flipped;
    };
  });

/** Bytes at random, and texts that are taken with a few things gone wrong. */
export function spoiltBytes(taken: readonly string[], maxLength: number): fc.Arbitrary<Buffer> {
  const spoilt = fc
    .tuple(fc.constantFrom(...taken), fc.array(edit, { minLength: 1, maxLength: 4 }))
    .map(([text, edits]) => {
      const whole: Buffer = Buffer.from(text, 'utf8');
      return edits.reduce((bytes, one) => one(bytes), whole).subarray(0, maxLength);
    });
  return fc.oneof(
    { weight: 1, arbitrary: anyBytes(Math.min(maxLength, 300)) },
    { weight: 4, arbitrary: spoilt },
  );
}

/** Milliseconds of computing, in all threads of this process, that something takes. */
export async function computing(work: () => unknown): Promise<number> {
  const before = process.cpuUsage();
  await work();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1000;
}
