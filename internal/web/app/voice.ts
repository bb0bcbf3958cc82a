// Calls aloud: by the system's voice, else by recorded words, else by beeps.
import { signal } from '@preact/signals'
import { settings, words } from './api'

let audio: AudioContext | undefined

export const speech = (): SpeechSynthesis | undefined => (window as any).speechSynthesis

/** The system has a voice; the list may come late. */
export const voiced = signal(!!speech()?.getVoices().length)
speech()?.addEventListener?.('voiceschanged', () => (voiced.value = !!speech()!.getVoices().length))

const canPlay = () => 'AudioContext' in window && 'OfflineAudioContext' in window

/** What "aloud" is on this device. */
export const aloud = (): 'voice' | 'clips' | 'beeps' => (voiced.value ? 'voice' : canPlay() && !broken.value ? 'clips' : 'beeps')

const broken = signal(false) // a clip could not be read

/** Lets sound begin: browsers want a key or a finger first. */
export function wake() {
  if (!canPlay()) return
  audio ??= new AudioContext()
  audio.resume()
}

const fetched = new Map<string, Promise<AudioBuffer>>()

// Silence at a clip's ends, which its format adds, is left out: words follow one another without gaps.
async function clip(url: string): Promise<AudioBuffer> {
  const bytes = await (await fetch(url)).arrayBuffer()
  const whole = await new OfflineAudioContext(1, 1, 22050).decodeAudioData(bytes)
  const x = whole.getChannelData(0)
  let from = 0, to = x.length
  while (from < to && Math.abs(x[from]) < 0.01) from++
  while (to > from && Math.abs(x[to - 1]) < 0.01) to--
  const cut = new AudioBuffer({ length: Math.max(1, to - from), sampleRate: whole.sampleRate })
  cut.copyToChannel(x.slice(from, to), 0)
  return cut
}

/** The clips of some phrases, a phrase of its own or word by word; null where one has none. */
function clips(phrases: string[]): Promise<AudioBuffer>[] | null {
  const at = words.value!.voice
  const urls = phrases.flatMap(p => (at[p] ? [at[p]] : p.toLowerCase().split(/[\s,]+/).filter(Boolean).map(w => at[w])))
  if (urls.some(u => !u)) return null
  return urls.map(u => {
    if (!fetched.has(u)) {
      const c = clip(u)
      fetched.set(u, c)
      c.catch(() => fetched.delete(u))
    }
    return fetched.get(u)!
  })
}

/** Fetches what will be called, so that no call comes late. */
export function prepare(phrases: string[]) {
  if (settings.value?.sound === 'voice' && aloud() === 'clips') clips(phrases)?.forEach(c => c.catch(() => (broken.value = true)))
}

let playing: AudioBufferSourceNode[] = []
let turn = 0 // a later call cuts an earlier one off

function hush() {
  for (const n of playing) n.stop()
  playing = []
  speech()?.cancel()
}

async function play(all: Promise<AudioBuffer>[]) {
  const mine = ++turn
  const buffers = await Promise.all(all)
  if (mine !== turn) return
  hush()
  wake()
  let at = audio!.currentTime + 0.02
  for (const b of buffers) {
    const n = audio!.createBufferSource()
    n.buffer = b
    n.connect(audio!.destination)
    n.start(at)
    at += b.duration
    playing.push(n)
  }
  await new Promise(done => setTimeout(done, (at - audio!.currentTime) * 1000))
}

function speak(text: string): Promise<void> {
  turn++
  hush()
  return new Promise(done => {
    const u = new SpeechSynthesisUtterance(text)
    u.lang = 'en'
    u.rate = 1.15
    u.onend = u.onerror = () => done()
    speech()!.speak(u)
    setTimeout(done, 4000) // some never say that they are done
  })
}

/** Says phrases one after the other and waits for their end; where only beeps are
 * left it says nothing. */
export async function tell(...phrases: string[]) {
  const all = phrases.filter(Boolean)
  if (settings.value?.sound !== 'voice' || !all.length) return
  if (aloud() === 'voice') return speak(all.join(', '))
  const c = aloud() === 'clips' ? clips(all) : null
  if (!c) return
  try {
    await play(c)
  } catch {
    broken.value = true
  }
}

function beep(tone: number, at: number, long: number) {
  wake()
  if (!audio) return
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
export function say(code: string, word: string): Promise<void> {
  const way = settings.value?.sound
  if (way === 'none' || !way) return Promise.resolve()
  const sound = () => beeps[code]?.forEach(b => beep(...b))
  if (way !== 'voice' || aloud() === 'beeps' || (aloud() === 'clips' && !clips([word]))) return Promise.resolve(sound())
  return tell(word).then(() => void (aloud() === 'beeps' && sound()))
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
