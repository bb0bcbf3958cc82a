// A quiet tone whose pitch follows the vacuum, so that a hold can be heard with
// the eyes elsewhere: two octaves from vented to the room's whole pressure.
let audio: AudioContext | undefined
let voice: OscillatorNode | undefined
let level: GainNode | undefined

const low = 220, octaves = 2 // Hz: 220 to 880
const whole: Record<string, number> = { kPa: 100, mbar: 1000, inHg: 29.5, mmHg: 750, psi: 14.5 }

/** The pitch of a vacuum in its unit [Hz]. */
export const pitch = (v: number, unit: string) => low * 2 ** (octaves * Math.min(1, Math.max(0, v / (whole[unit] ?? 100))))

/** Begins to sound; browsers want a key or a finger first. */
export function sound() {
  if (voice || !('AudioContext' in window)) return
  audio ??= new AudioContext()
  audio.resume()
  voice = audio.createOscillator()
  level = audio.createGain()
  level.gain.value = 0
  voice.connect(level).connect(audio.destination)
  voice.start()
}

/** Follows the vacuum; null: nothing to hear. */
export function follow(v: number | null, unit: string) {
  if (!voice || !audio) return
  const at = audio.currentTime
  level!.gain.setTargetAtTime(v === null ? 0 : 0.05, at, 0.05)
  if (v !== null) voice.frequency.setTargetAtTime(pitch(v, unit), at, 0.06)
}

export function still() {
  voice?.stop()
  voice?.disconnect()
  voice = undefined
}
