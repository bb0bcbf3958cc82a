// Calls aloud, or by beeps where the system has no voice or the person wants none.
import { settings } from './api'

let audio: AudioContext | undefined

export const speech = (): SpeechSynthesis | undefined => (window as any).speechSynthesis

export function hasVoice(): boolean {
  return !!speech() && speech()!.getVoices().length > 0
}

function beep(tone: number, at: number, long: number) {
  audio ??= new AudioContext()
  audio.resume()
  const o = audio.createOscillator()
  const g = audio.createGain()
  o.frequency.value = tone
  g.gain.setValueAtTime(0.0001, audio.currentTime + at)
  g.gain.exponentialRampToValueAtTime(0.4, audio.currentTime + at + 0.015)
  g.gain.setValueAtTime(0.4, audio.currentTime + at + long - 0.03)
  g.gain.exponentialRampToValueAtTime(0.0001, audio.currentTime + at + long)
  o.connect(g).connect(audio.destination)
  o.start(audio.currentTime + at)
  o.stop(audio.currentTime + at + long)
}

// One low: pump on. One high and long: shut. Then as many short ones as fives.
const beeps: Record<string, [number, number, number][]> = {
  pump: [[440, 0, 0.35]], shut: [[880, 0, 0.6]], '5': [[660, 0, 0.14]], '10': [[660, 0, 0.14], [660, 0.22, 0.14]],
  '15': [[660, 0, 0.14], [660, 0.22, 0.14], [660, 0.44, 0.14]], '20': [[660, 0, 0.14], [660, 0.22, 0.14], [660, 0.44, 0.14], [660, 0.66, 0.14]],
}

/** Says a call in the way that was chosen. */
export function say(code: string, word: string) {
  const way = settings.value?.sound
  if (way === 'none' || !way) return
  if (way === 'voice' && hasVoice()) {
    const s = speech()!
    s.cancel()
    const u = new SpeechSynthesisUtterance(word)
    u.lang = 'en'
    u.rate = 1.15
    s.speak(u)
    return
  }
  for (const b of beeps[code] ?? []) beep(...b)
}

/** Asks the screen to stay lit; says whether it will. */
export async function stayLit(): Promise<(() => void) | null> {
  try {
    const lock = await (navigator as any).wakeLock?.request('screen')
    return lock ? () => void lock.release() : null
  } catch {
    return null
  }
}
