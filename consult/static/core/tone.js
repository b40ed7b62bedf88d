/** One short tone of this pitch, in Hz, at this time of the context; `loudest` from 0 to 1. */
export function tone(context, at, pitch, loudest) {
  const source = context.createOscillator();
  const level = context.createGain();
  source.frequency.value = pitch;
  level.gain.setValueAtTime(0, at);
  level.gain.linearRampToValueAtTime(loudest, at + 0.02);
  level.gain.linearRampToValueAtTime(0, at + 0.15);
  source.connect(level).connect(context.destination);
  source.start(at);
  source.stop(at + 0.16);
}
