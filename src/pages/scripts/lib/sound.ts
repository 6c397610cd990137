import { remember, remembered } from './kept.js';

export type Sound = 'accepted' | 'refused' | 'noted' | 'waiting';

interface Tone {
  hertz: number;
  seconds: number;
  wave: OscillatorType;
}

/** Told apart by number, pitch and roughness of tones: also beside a running line. */
const sounds: Readonly<Record<Sound, readonly Tone[]>> = {
  accepted: [
    { hertz: 660, seconds: 0.12, wave: 'sine' },
    { hertz: 990, seconds: 0.2, wave: 'sine' },
  ],
  refused: [
    { hertz: 220, seconds: 0.3, wave: 'square' },
    { hertz: 165, seconds: 0.45, wave: 'square' },
  ],
  noted: [{ hertz: 880, seconds: 0.07, wave: 'sine' }],
  waiting: [
    { hertz: 440, seconds: 0.15, wave: 'triangle' },
    { hertz: 440, seconds: 0.15, wave: 'triangle' },
    { hertz: 440, seconds: 0.15, wave: 'triangle' },
  ],
};
const LOUDNESS = 0.25;
const GAP_S = 0.06;
const FADE_S = 0.02;

let context: AudioContext | undefined;

export function isSoundOn(): boolean {
  return remembered<boolean>('sound') ?? true;
}

export function turnSound(on: boolean): void {
  remember('sound', on);
}

/** Plays a sound, unless it is turned off; whatever it says is on the screen as well. */
export function play(sound: Sound): void {
  if (!isSoundOn()) return;
  try {
    context ??= new AudioContext();
    void context.resume();
    let at = context.currentTime;
    for (const tone of sounds[sound]) at = playTone(context, tone, at) + GAP_S;
  } catch {
    // A machine without sound still shows every answer.
  }
}

/** Plays a tone from an instant of the context's time and returns when it ends. */
function playTone(context: AudioContext, { hertz, seconds, wave }: Tone, at: number): number {
  const end = at + seconds;
  const source = context.createOscillator();
  const volume = context.createGain();
  source.type = wave;
  source.frequency.value = hertz;
  // Faded at both ends, since a tone cut off clicks.
  volume.gain.setValueAtTime(0, at);
  volume.gain.linearRampToValueAtTime(LOUDNESS, at + FADE_S);
  volume.gain.setValueAtTime(LOUDNESS, end - FADE_S);
  volume.gain.linearRampToValueAtTime(0, end);
  source.connect(volume).connect(context.destination);
  source.start(at);
  source.stop(end);
  return end;
}
